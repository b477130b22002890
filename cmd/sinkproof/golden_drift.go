package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sinkproof/bench/quantity"
	"sinkproof/reports/ledger"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/golden"
)

// goldenDrift are the flags of sinkproof rig golden drift.
type goldenDrift struct {
	goldenPlace
	serials []string
	json    bool
}

func newGoldenDrift() *cobra.Command {
	var f goldenDrift
	c := described(&cobra.Command{
		Use:   "drift",
		Short: "Charts the readings of the golden units over their runs",
		Long: `Puts the value of every check of a golden unit on a control chart whose limits
come from its first good answers, and writes a page and a PDF for each unit. The
same board should read the same for ever: what moves is the rig.

Exit code 1 says that readings move.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig golden drift
  sinkproof rig golden drift --rig bench.hcl --serial GOLD-1 --json`)
	f.flags(c.Flags())
	c.Flags().StringSliceVar(&f.serials, "serial", nil, "only these `serials`")
	c.Flags().BoolVar(&f.json, "json", false, "print the series instead of writing pages")
	return c
}

// driftReport is the drift of one golden unit for a program.
type driftReport struct {
	Serial  string        `json:"serial"`
	Title   string        `json:"title"`
	Product string        `json:"product"`
	Runs    int           `json:"runs"`
	Series  []driftSeries `json:"series"`
	// Pages are the files that were written.
	Pages []string `json:"pages,omitempty"`
}

type driftSeries struct {
	Check    string       `json:"check"`
	Unit     string       `json:"unit"`
	Baseline int          `json:"baseline_runs"`
	Centre   *float64     `json:"centre,omitempty"`
	Lower    *float64     `json:"lower_limit,omitempty"`
	Upper    *float64     `json:"upper_limit,omitempty"`
	Moves    bool         `json:"moves"`
	Points   []driftPoint `json:"points"`
}

type driftPoint struct {
	Run     string   `json:"run"`
	Started string   `json:"started"`
	Value   float64  `json:"value"`
	U       float64  `json:"expanded_uncertainty,omitempty"`
	Answer  string   `json:"answer"`
	Broken  []string `json:"rules_broken,omitempty"`
}

func (f *goldenDrift) run(c *cobra.Command) (err error) {
	view, rig, units, err := f.units(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, view.Close()) }()
	reports, found := []driftReport{}, map[string]bool{}
	for _, u := range units {
		if u.Retired != nil || len(f.serials) > 0 && !slices.Contains(f.serials, u.Serial) {
			continue
		}
		found[u.Serial] = true
		runs, err := view.GoldenRuns(c.Context(), u)
		if err != nil {
			return ledgerTrouble(err)
		}
		one, err := f.chart(u.Golden, runs)
		if err != nil {
			return err
		}
		reports = append(reports, one)
	}
	for _, serial := range f.serials {
		if !found[serial] {
			return usage("sinkproof rig golden list shows them", "--serial %s is no golden unit in use of rig %s", serial, rig)
		}
	}
	return f.tell(c.OutOrStdout(), reports)
}

// chart works out the drift of a golden unit and writes its pages.
func (f *goldenDrift) chart(g record.Golden, runs []ledger.GoldenRun) (driftReport, error) {
	var list []golden.Run
	var rows []page.GoldenRun
	for i := range runs {
		list = append(list, *goldenRun(&runs[i]))
		rows = append(rows, page.GoldenRun{Opening: runs[i].Opening, Answer: runs[i].Answer, Deviations: runs[i].Deviations})
	}
	series, err := golden.Drift(g, list)
	if err != nil {
		return driftReport{}, err
	}
	out := driftReport{Serial: g.Serial, Title: g.Title, Product: g.Product, Runs: len(runs), Series: []driftSeries{}}
	var drift []page.GoldenDrift
	for _, s := range series {
		out.Series = append(out.Series, seriesOf(s))
		d := page.GoldenDrift{Check: s.Check, Title: s.Title, Unit: s.Unit, Expected: s.Expected, Baseline: s.Baseline, Chart: s.Chart, Spread: s.Spread, Moves: s.Moves()}
		for _, p := range s.Points {
			d.Values = append(d.Values, p.Value)
		}
		drift = append(drift, d)
	}
	if f.json {
		return out, nil
	}
	view := page.NewGolden(g, rows, drift, golden.Rules())
	html, err := view.HTML()
	if err != nil {
		return out, err
	}
	pdf, err := view.PDF()
	if err != nil {
		return out, err
	}
	folder := filepath.Join("golden", folderName(g.Serial))
	out.Pages = []string{filepath.Join(folder, "drift.html"), filepath.Join(folder, "drift.pdf")}
	return out, errors.Join(writeBelow(f.out, out.Pages[0], html), writeBelow(f.out, out.Pages[1], pdf))
}

func seriesOf(s golden.Series) driftSeries {
	d := driftSeries{Check: s.Check, Unit: s.Unit, Baseline: s.Baseline, Moves: s.Moves(), Points: []driftPoint{}}
	for i, p := range s.Points {
		point := driftPoint{Run: p.Run, Started: p.Started, Value: p.Value, U: p.U, Answer: string(p.Answer)}
		if i < len(s.Chart.Points) {
			for _, r := range s.Chart.Points[i].Violations {
				point.Broken = append(point.Broken, r.String())
			}
		}
		d.Points = append(d.Points, point)
	}
	if s.Baseline > 0 {
		first := s.Chart.Points[0]
		d.Centre, d.Lower, d.Upper = &s.Chart.Centre, &first.Lower, &first.Upper
	}
	return d
}

func (f *goldenDrift) tell(w io.Writer, reports []driftReport) error {
	moves := false
	for _, r := range reports {
		for _, s := range r.Series {
			moves = moves || s.Moves
		}
	}
	var err error
	if f.json {
		err = printJSON(w, reports)
	} else {
		err = f.print(w, reports)
	}
	if err == nil && moves {
		err = judgedBad()
	}
	return err
}

func (f *goldenDrift) print(w io.Writer, reports []driftReport) error {
	if len(reports) == 0 {
		_, err := fmt.Fprintln(w, "no golden unit is in use; sinkproof rig golden add registers one")
		return err
	}
	for _, r := range reports {
		charted := 0
		t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		for _, s := range r.Series {
			if s.Baseline == 0 {
				continue
			}
			charted++
			if s.Moves {
				dim, err := record.Dimension(s.Unit)
				if err != nil {
					return err
				}
				of := func(si float64) string { return quantity.Quantity{SI: si, Dim: dim}.Text(5) }
				fmt.Fprintf(t, "  %s\tMOVES\tlimits %s to %s\tlatest %s\n", s.Check, of(*s.Lower), of(*s.Upper), of(s.Points[len(s.Points)-1].Value))
			}
		}
		fmt.Fprintf(w, "%s  %s: %d runs, %d of %d series charted\n", r.Serial, r.Title, r.Runs, charted, len(r.Series))
		if err := t.Flush(); err != nil {
			return fmt.Errorf("print the drift: %w", err)
		}
		for _, p := range r.Pages {
			fmt.Fprintf(w, "  %s\n", filepath.Join(f.out, p))
		}
	}
	return nil
}
