package main

import (
	"errors"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/wear"
)

// wearFlags are the flags of sinkproof rig wear.
type wearFlags struct {
	rig, ledger string
	json        bool
}

func newWear() *cobra.Command {
	var f wearFlags
	c := described(&cobra.Command{
		Use:   "wear [--rig FILE] --ledger FILE",
		Short: "Counts what relays and plug have done, and forecasts their replacement",
		Long: `Sums up the operations of each relay and the mate cycles of the test plug from
the signed records of the ledger, and holds them against the rated life in the
wiring file. A run that a power cut interrupted counts as the longest run of its
scenario; how much of the count is such an estimate is shown. The forecast takes
the mean rate of the days on record. On a rig with several nests each has its own
count, and its parts go by its name, such as nest-2/k_plug.

Calibrations and self-tests are not counted. Exit code 1 says that a part has
used up its life.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig wear --ledger sinkproof-demo/ledger.db
  sinkproof rig wear --rig bench.hcl --ledger line/ledger.db --json`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.ledger, "ledger", "sinkproof-runs/ledger.db", "the ledger's `file`")
	fs.BoolVar(&f.json, "json", false, "print it for a program")
	return c
}

func (f *wearFlags) run(c *cobra.Command) (err error) {
	rig, err := loadRig(f.rig, c.ErrOrStderr())
	if err != nil {
		return err
	}
	view, err := ledger.OpenView(c.Context(), f.ledger)
	if err != nil {
		return ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	kind := record.Twin
	if exists(f.rig) {
		kind = record.Hardware
	}
	var counts []*wear.Count
	views := rig.Rig.ByNest()
	for _, v := range views {
		counts = append(counts, wear.NewCount(v, kind))
	}
	for data, err := range view.Entries(c.Context()) {
		if err != nil {
			return ledgerTrouble(err)
		}
		e, err := record.DecodeEntry(data)
		for _, count := range counts {
			if err == nil {
				err = count.Add(e)
			}
		}
		if err != nil {
			return &outcome{code: exitBad, err: fmt.Errorf("ledger %s: %w", f.ledger, err), hint: "sinkproof ledger verify names what is wrong"}
		}
	}
	worn := wearReport{Rig: rig.Rig.Name}
	for i, count := range counts {
		prefix := ""
		if len(views) > 1 {
			prefix = views[i].Nest.Name + "/"
		}
		worn.add(prefix, count)
	}
	if f.json {
		err = printJSON(c.OutOrStdout(), worn)
	} else {
		err = worn.print(c.OutOrStdout())
	}
	if err != nil {
		return err
	}
	for _, p := range worn.Parts {
		if p.Life > 0 && p.Done >= p.Life {
			return judgedBad()
		}
	}
	return nil
}

// wearReport is the count for a program.
type wearReport struct {
	Rig         string `json:"rig"`
	Runs        int    `json:"runs"`
	Interrupted int    `json:"interrupted"`
	// Days is how many days the records span, from which the forecast is made.
	Days  int        `json:"days"`
	Parts []wornPart `json:"parts"`
}

type wornPart struct {
	Name      string  `json:"name"`
	Done      float64 `json:"done"`
	Estimated float64 `json:"estimated"`
	Life      float64 `json:"life,omitempty"`
	Used      float64 `json:"used"`
	// Due is the day of replacement; absent where the part lasts for a hundred
	// years or nothing is known.
	Due string `json:"due,omitempty"`
}

// add adds the count of one nest, whose parts go by its name where there are others.
func (r *wearReport) add(prefix string, n *wear.Count) {
	r.Runs += n.Runs
	r.Interrupted += n.Interrupted
	r.Days = max(r.Days, n.Days())
	for _, p := range n.Parts() {
		w := wornPart{Name: prefix + p.Name, Done: p.Done, Estimated: p.Estimated, Life: p.Life, Used: p.Used()}
		if !p.Due.IsZero() {
			w.Due = p.Due.Format(time.DateOnly)
		}
		r.Parts = append(r.Parts, w)
	}
}

func (r wearReport) print(w io.Writer) error {
	fmt.Fprintf(w, "rig %s: %d runs, %d interrupted\n", r.Rig, r.Runs, r.Interrupted)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "PART\tDONE\tOF THAT ESTIMATED\tLIFE\tUSED\tREPLACE BY")
	for _, p := range r.Parts {
		life, used, due := "not stated", "", p.Due
		if p.Life > 0 {
			life, used = fmt.Sprintf("%.0f", p.Life), fmt.Sprintf("%.3g %%", 100*p.Used)
		}
		switch {
		case p.Done == 0:
			due = "not used yet"
		case p.Life > 0 && due == "":
			due = "in over 100 years"
		}
		fmt.Fprintf(t, "%s\t%.0f\t%.0f\t%s\t%s\t%s\n", p.Name, p.Done, p.Estimated, life, used, due)
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the wear: %w", err)
	}
	if r.Days > 0 {
		fmt.Fprintf(w, "The forecast takes the mean rate of %s on record.\n", counted(r.Days, "day"))
	}
	return nil
}
