package statistics

import (
	"os"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
)

// figures are the pictures of a study.
type figures = []page.StudyFigure

// NewStudy returns the command for statistics on a file of values or on a
// ledger. explain adds what to do about a trouble of the ledger's store.
func NewStudy(explain func(error) error) *cobra.Command {
	c := &cobra.Command{
		Use:   "study",
		Short: "Answers questions about measured values, from a CSV file or the ledger",
		Long: `Each study takes a CSV file or a ledger.

A file has a line of column names, then one row per line; commas, semicolons or tabs
set the columns apart, whichever the header has; - is standard input. A cell that is
no number where one is wanted is refused with its line and column, never skipped.

With --ledger and --check the values are those that the check found. Its columns are
value, serial, product, lot, supplier, bench, nest, day, attempt and run, for --by,
--subgroup, --part and the like. What the bench could not answer does not count, nor
do runs of golden units, nor records that are under suspicion. Where runs were simulated, the answer says so;
--json has simulated then. The values come from a file of columns beside the ledger
(its name with -values), which the first question makes, which follows the ledger,
proves nothing and may be deleted.

--page and --pdf write the answer with its plots; the same values give the same
bytes. A study ends with 0; with 1 where a judgement was asked for and is negative;
with 2 where the input cannot be studied.`,
		Example: `  sinkproof study capability vbus.csv --value vbus --lower 4.75 --upper 5.25
  sinkproof study chart counts.csv --kind p --value bad --size tested --page p.html
  sinkproof study compare new.csv old.csv --value rd --margin 50`,
	}
	c.RunE = OnlySubcommands
	c.PersistentPreRun = func(*cobra.Command, []string) { makeRoom() }
	c.AddCommand(newCapability(explain), newGauge(explain), newBias(explain), newLinearity(), newStability(), newAgreement(), newChart(explain), newTolerance(explain),
		newProportion(), newCompare(explain), newMoments(explain))
	return c
}

// room is what a study may take. A million values and what is drawn of them
// live in 100 to 200 MB; a limit below that would have the collector run all
// the time.
const room = 256 << 20

// makeRoom raises the program's own memory limit, which suits a small computer
// at a bench, unless somebody set one.
func makeRoom() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(room)
	}
}

// NewLot returns the command for sampling plans. explain adds what to do about a
// trouble of the store of a ledger that is judged.
func NewLot(explain func(error) error) *cobra.Command {
	c := &cobra.Command{
		Use:   "lot",
		Short: "Tells how many units of a lot to test, and what that proves",
	}
	c.RunE = OnlySubcommands
	c.AddCommand(newPlan(), newCurve(), newDouble(), newVariables(explain), newSequential())
	return c
}

// OnlySubcommands shows the help, and refuses a word that is no subcommand.
func OnlySubcommands(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return c.Help()
	}
	var known []string
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			known = append(known, sub.Name())
		}
	}
	return trouble("there is "+strings.Join(known, ", "), "%s has no %q", c.CommandPath(), args[0])
}
