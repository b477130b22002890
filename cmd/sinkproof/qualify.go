package main

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"sinkproof/cmd/sinkproof/statistics"
	"sinkproof/reports/ledger"
	"sinkproof/reports/quality/qualification"
)

// qualifyFlags are the flags of sinkproof qualify.
type qualifyFlags struct {
	ledger, product, candidate, incumbent string
	margins, since                        string
	checks                                []string
	terms                                 qualification.Terms
	json                                  bool
	files                                 studyFiles
	// told is told how far the columns of the ledger are behind.
	told func(entries int64)
}

func newQualify() *cobra.Command {
	f := qualifyFlags{terms: qualification.DefaultTerms()}
	c := described(&cobra.Command{
		Use:   "qualify --product P --candidate SUPPLIER --incumbent SUPPLIER [--margin FILE]",
		Short: "Decides whether a supplier's boards may be bought in place of today's",
		Long: `Compares the boards of two suppliers in the ledger and decides: qualified, not
qualified, not enough evidence, or refused.

First the rig: boards that were run four times or more are its gauge study (nest,
re-seat and day as factors, on boards with the bench's cell substitute). Without
one, or where the rig's own spread takes too much of the room between limits, the
decision is refused. So it is where something else could pass for the supplier:
fewer than three lots of a side, a nest, bench or day that saw one side only, sides
that were not interleaved, papers that changed. Where an order was drawn before
testing (sinkproof qualify order), it says whether the runs followed it.

Then the claims: bad boards (Fisher, Newcombe), and for each check with a value
its capability (Ppk), drift in the order of serials, and equivalence of the means
within a margin (two one-sided tests), one risk shared by all checks (Holm). Where
lots differ by more than their boards explain, lots are counted and not boards. It
says how many further boards or lots the claims take, and what would change the
decision.

Of a board its first run with a verdict counts; every check of it is in the share
of bad boards. --margin says of which checks the values are compared, in a CSV file
with the columns check and margin ("legacy-current[normal],7 mA"). An empty margin
is a tenth of the width between the limits, or a fifth of the room between one limit
and the incumbent's mean. Without a file or --check all checks with a value are
compared, also those that say more about the bench's supplies than about a board,
for which no rig is fit. State both before testing.

Exit code 0: qualified; 1: not qualified; 3: not enough evidence; 4: refused.

--json prints decision, reasons, changes, sample_large_enough, more_boards,
more_lots, rig, design, order, defects, faults, characteristics.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof qualify --ledger line/ledger.db --product hand-lamp --candidate "Board house B" --incumbent "Board house A"
  sinkproof qualify --ledger suppliers/ledger.db --product hand-lamp --candidate Tarnholm --incumbent Fenmark --margin margins.csv --page decision.html --pdf decision.pdf`)
	c.AddCommand(newQualifyOrder())
	fs := c.Flags()
	fs.StringVar(&f.ledger, "ledger", "sinkproof-runs/ledger.db", "the ledger's `file`")
	fs.StringVar(&f.product, "product", "", "`name` of the product")
	fs.StringVar(&f.candidate, "candidate", "", "the `supplier` that is to be qualified")
	fs.StringVar(&f.incumbent, "incumbent", "", "today's `supplier`")
	fs.StringVar(&f.margins, "margin", "", "CSV `file` with the columns check and margin: what is compared")
	fs.StringVar(&f.since, "since", "", "only runs from this `date` on, as 2026-05-31 or 2026-05-31T07:30:00Z")
	fs.StringArrayVar(&f.checks, "check", nil, "`name` of a further check to compare; may be given more than once")
	fs.Float64Var(&f.terms.Alpha, "alpha", f.terms.Alpha, "`risk` of a wrong claim")
	fs.Float64Var(&f.terms.Power, "power", f.terms.Power, "`probability` with which boards that are alike should be found so")
	fs.Float64Var(&f.terms.BadMargin, "bad-margin", f.terms.BadMargin, "how much larger the `share` of bad boards may be")
	fs.Float64Var(&f.terms.Ppk, "ppk", f.terms.Ppk, "least `Ppk` of every check")
	fs.Float64Var(&f.terms.GRR, "grr", f.terms.GRR, "most that the rig itself may spread, in `percent` of the room between limits")
	fs.BoolVar(&f.json, "json", false, "print the decision for a program")
	f.files.add(fs, "the decision")
	return c
}

// question checks the flags.
func (f *qualifyFlags) question() (ledger.Question, error) {
	q := ledger.Question{Product: f.product}
	t := f.terms
	switch {
	case f.product == "":
		return q, usage("--product hand-lamp", "which product?")
	case f.candidate == "" || f.incumbent == "":
		return q, usage("--candidate SUPPLIER --incumbent SUPPLIER", "which suppliers?")
	case f.candidate == f.incumbent:
		return q, usage("two suppliers are compared", "candidate and incumbent are both %q", f.candidate)
	case !(t.Alpha > 0 && t.Alpha < 0.5):
		return q, usage("0.05 by custom", "--alpha %g is no risk", t.Alpha)
	case !(t.Power > t.Alpha && t.Power < 1):
		return q, usage("0.9, or 0.8", "--power %g", t.Power)
	case !(t.BadMargin > 0 && t.BadMargin < 0.5):
		return q, usage("a share such as 0.02", "--bad-margin %g", t.BadMargin)
	case !(t.Ppk >= 0) || math.IsInf(t.Ppk, 0):
		return q, usage("1, or 1.33", "--ppk %g", t.Ppk)
	case !(t.GRR > 0 && t.GRR <= 100):
		return q, usage("30 percent is the most by custom, 10 good", "--grr %g", t.GRR)
	}
	if err := f.files.check(); err != nil {
		return q, err
	}
	var err error
	q.Since, err = instant("since", f.since)
	return q, err
}

// qualified is a decision with where it comes from.
type qualified struct {
	qualification.Qualification
	*gathered
	product string
	// left are the checks that were not compared, with the reason.
	left []string
	// order is that of testing; nil where none was drawn before.
	order *orderKept
}

// decide gathers the sample and holds it against its terms.
func (f *qualifyFlags) decide(c *cobra.Command) (d qualified, err error) {
	q, err := f.question()
	if err != nil {
		return d, err
	}
	margins := map[string]float64{}
	if f.margins != "" {
		if margins, err = readMargins(f.margins); err != nil {
			return d, err
		}
	}
	d.product = f.product
	f.told = statistics.Behind(c.ErrOrStderr(), f.ledger)
	if d.gathered, err = f.gather(c.Context(), q, f.named(margins)); err != nil {
		return d, err
	}
	if err := f.known(d.gathered, margins); err != nil {
		return d, err
	}
	var s qualification.Sample
	s, d.left = d.sample(f.terms, margins)
	if len(s.Characteristics) == 0 {
		return d, usage("name other checks with --check", "no check has values of both suppliers: %s", clipped(fmt.Sprint(d.left), 300))
	}
	d.Qualification, err = qualification.Decide(s)
	switch {
	case errors.Is(err, qualification.ErrNoBoards):
		return d, usage("the ledger has boards of: "+d.known(), "%s: %w", f.ledger, err)
	case err != nil:
		return d, fmt.Errorf("decide about %s: %w", f.candidate, err)
	}
	d.order, err = f.ordered(c.Context(), q)
	return d, err
}

// named are the checks to compare; none for all.
func (f *qualifyFlags) named(margins map[string]float64) []string {
	names := slices.Clone(f.checks)
	for name := range margins {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// known refuses checks and suppliers that the ledger does not have.
func (f *qualifyFlags) known(g *gathered, margins map[string]float64) error {
	if len(g.suppliers) == 0 {
		return usage("sinkproof run --supplier --lot records them", "%s holds no judged board of product %q", f.ledger, f.product)
	}
	for _, name := range []string{f.candidate, f.incumbent} {
		if g.suppliers[name] == 0 {
			return usage("the ledger has boards of: "+g.known(), "%s holds no board of supplier %q", f.ledger, name)
		}
	}
	for _, name := range f.named(margins) {
		if _, ok := g.at[name]; !ok {
			return usage("name a check as the scenario does, with its key in brackets", "no record has a value of check %q", name)
		}
	}
	return nil
}

func (f *qualifyFlags) run(c *cobra.Command) error {
	makeRoom()
	d, err := f.decide(c)
	if err != nil {
		return err
	}
	if f.files.wanted() {
		err = f.files.write(d.view())
	}
	if err != nil {
		return err
	}
	if f.json {
		err = printJSON(c.OutOrStdout(), d.forProgram())
	} else {
		err = d.print(c.OutOrStdout())
	}
	if err != nil {
		return err
	}
	return d.exit()
}

// exit is the exit code of a decision, which was told already.
func (d qualified) exit() error {
	switch d.Decision {
	case qualification.Qualified:
		return nil
	case qualification.NotQualified:
		return judgedBad()
	case qualification.NotEnough:
		return &outcome{code: exitNoJudge}
	}
	return &outcome{code: exitRefused}
}
