package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
)

// The invented lot of the demonstration.
const (
	demoLot      = "HL-2026-02"
	demoSupplier = "Fenmark Assembly"
)

// demoFlags are the flags of sinkproof demo.
type demoFlags struct {
	units    int
	seed     uint64
	out      string
	realtime bool
	json     bool
	act      string
}

func newDemo() *cobra.Command {
	var f demoFlags
	c := described(&cobra.Command{
		Use:   "demo",
		Short: "Does the whole job on the twin: a lot with good and faulty units",
		Long: `Simulates a bench and an invented lot of units, good ones and one of each
fault, puts each through the shipped scenario, and writes a signed record and a
report for each, a ledger, and a summary page. No hardware is needed.

--act suppliers is another act, of some minutes: 300 boards each of two invented
suppliers, one of whom has a fault on 3 % of its boards and a drifting charge
current, and the decision about it (sinkproof qualify) as page, PDF and JSON.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof demo
  sinkproof demo --units 48 --seed 7 --out /tmp/lot --json
  sinkproof demo --act suppliers --out suppliers`)
	fs := c.Flags()
	fs.IntVar(&f.units, "units", 24, "`number` of units")
	fs.Uint64Var(&f.seed, "seed", 1, "seed of the lot; the same seed gives the same files")
	fs.StringVar(&f.out, "out", "sinkproof-demo", "output `folder`")
	fs.BoolVar(&f.realtime, "realtime", false, "take the time that hardware would")
	fs.BoolVar(&f.json, "json", false, "print the results for a program")
	fs.StringVar(&f.act, "act", "line", "line: one lot; suppliers: two suppliers' boards, --units of each, and the decision")
	return c
}

// demoUnit is one unit of the lot.
type demoUnit struct {
	serial string
	truth  string // "good" or the faults joined by "+"
	faults []twin.Fault
}

// demoLotOf draws the lot: one unit of each fault that the product can have,
// the rest good, in a drawn order. A small lot keeps at least one good unit.
func demoLotOf(p *papers, units int, seed uint64) ([]demoUnit, error) {
	truths := make([]string, 0, units)
	for _, d := range twin.Faults() {
		if len(truths) < units-1 && d.Applies(p.product) {
			truths = append(truths, d.Name)
		}
	}
	for len(truths) < units {
		truths = append(truths, "good")
	}
	shuffle(stream(seed, "demo", "order"), truths)
	lot := make([]demoUnit, 0, units)
	for i, truth := range truths {
		faults, err := twin.ParseFaults(truth)
		if err != nil {
			return nil, fmt.Errorf("demo: unit %d: %w", i+1, err)
		}
		lot = append(lot, demoUnit{serial: fmt.Sprintf("HL-26-%04d", i+1), truth: truth, faults: faults})
	}
	return lot, nil
}

// demoResult is one unit's line of the results.
type demoResult struct {
	Serial       string   `json:"serial"`
	Truth        string   `json:"truth"`
	Verdict      string   `json:"verdict"`
	ChecksFailed []string `json:"checks_failed"`
	Record       string   `json:"record"`
	ReportHTML   string   `json:"report_html"`
	ReportPDF    string   `json:"report_pdf"`

	run record.Run
}

// demoResults is what the demonstration prints.
type demoResults struct {
	Units        int          `json:"units"`
	Passed       int          `json:"passed"`
	Failed       int          `json:"failed"`
	NoVerdict    int          `json:"no_verdict"`
	Escapes      int          `json:"escapes"`
	FalseRejects int          `json:"false_rejects"`
	Results      []demoResult `json:"results"`
}

func (r *demoResults) add(u demoUnit, d done) {
	one := demoResult{
		Serial: u.serial, Truth: u.truth, Verdict: string(d.run.Verdict), ChecksFailed: []string{},
		Record: filepath.ToSlash(d.record), ReportHTML: filepath.ToSlash(d.html), ReportPDF: filepath.ToSlash(d.pdf),
		run: d.run,
	}
	for _, c := range d.run.Checks {
		if c.Answer == record.Failed {
			one.ChecksFailed = append(one.ChecksFailed, c.Name)
		}
	}
	r.Units++
	good := len(u.faults) == 0
	switch d.run.Verdict {
	case record.Pass:
		r.Passed++
		if !good {
			r.Escapes++
		}
	case record.Fail:
		r.Failed++
		if good {
			r.FalseRejects++
		}
	default:
		r.NoVerdict++
	}
	r.Results = append(r.Results, one)
}

func (f *demoFlags) run(c *cobra.Command) error {
	switch f.act {
	case "line":
	case actSuppliers:
		return f.suppliers(c)
	default:
		return usage("line, or suppliers", "--act %q", f.act)
	}
	if f.units < 1 {
		return usage("a lot has at least one unit", "--units %d", f.units)
	}
	p, err := load(defaultRig, defaultProduct, defaultScenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	lot, err := demoLotOf(p, f.units, f.seed)
	if err != nil {
		return err
	}
	if err := clearDemo(f.out); err != nil {
		return err
	}
	results, err := f.judgeLot(c, p, lot)
	if err != nil {
		return err
	}
	if err := f.summarise(p, results); err != nil {
		return err
	}
	return f.tell(c, results)
}

func (f *demoFlags) judgeLot(c *cobra.Command, p *papers, lot []demoUnit) (results *demoResults, err error) {
	sim, err := newSimulated(p, f.seed, f.realtime)
	if err != nil {
		return nil, err
	}
	s := &station{papers: p, screen: newScreen(c.ErrOrStderr()), out: f.out, handler: sim, hardware: sim.twin.Hardware()}
	if s.identity, err = twinIdentity(p, f.seed, s.hardware.Clock); err != nil {
		return nil, err
	}
	if s.findings, err = newDiagnostician(c.Context(), p, findingsAuto, s.screen); err != nil {
		return nil, err
	}
	if err := tryBench(c.Context(), p, s.hardware); err != nil {
		return nil, err
	}
	if err := s.openLedger(c.Context(), filepath.Join(f.out, "ledger.db")); err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	results = &demoResults{}
	for _, u := range lot {
		sim.truth[u.serial] = u.faults
		d, err := s.judge(c.Context(), unit{serial: u.serial, lot: demoLot, supplier: demoSupplier})
		if err != nil {
			return results, err
		}
		results.add(u, d)
		sim.twin.Unseat()
	}
	return results, nil
}

// demoMark is the file with the results. It also tells a folder of an earlier
// demonstration, which may be replaced, from one with somebody's work in it.
const demoMark = "demo.json"

// clearDemo makes the output folder, or empties it where it holds an earlier
// demonstration.
func clearDemo(out string) error {
	entries, err := os.ReadDir(out)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return usage("name another folder with --out", "output folder: %w", err)
	}
	if len(entries) > 0 && !exists(filepath.Join(out, demoMark)) {
		return usage("name an empty folder with --out", "output folder %s holds files that no demo made", out)
	}
	for _, name := range []string{"units", "index.html", "ledger.db", "ledger.db-wal", "ledger.db-shm", "ledger.db.pub"} {
		if err := os.RemoveAll(filepath.Join(out, name)); err != nil {
			return fmt.Errorf("clear the earlier demo: %w", err)
		}
	}
	if err := makeFolder(out); err != nil {
		return err
	}
	return writeBelow(out, demoMark, []byte("{}\n"))
}

func (f *demoFlags) summarise(p *papers, r *demoResults) error {
	s := page.Summary{
		Title: "Lot " + demoLot + ", " + p.product.Title, Twin: true,
		Facts: []page.Row{
			{Label: "Product", Text: p.product.Name + " " + p.product.Version},
			{Label: "Supplier", Text: demoSupplier + " (invented)"},
			{Label: "Scenario", Text: p.scenario.Title + ", " + p.scenario.Version},
			{Label: "Rig", Text: p.rig.Rig.Title + ", " + p.rig.Rig.Version},
			{Label: "Seed", Text: fmt.Sprint(f.seed)},
		},
		Tally: []page.TallyRow{
			{Figure: fmt.Sprint(r.Passed), Label: "passed", Tone: page.Good},
			{Figure: fmt.Sprint(r.Failed), Label: "failed", Tone: page.Bad},
			{Figure: fmt.Sprint(r.NoVerdict), Label: "no verdict", Tone: page.Open},
			{Figure: fmt.Sprint(r.Escapes), Label: "faulty units passed", Tone: page.Plain},
			{Figure: fmt.Sprint(r.FalseRejects), Label: "good units rejected", Tone: page.Plain},
		},
	}
	for _, one := range r.Results {
		s.Units = append(s.Units, page.NewSummaryRow(one.run, one.Truth, one.ReportHTML, one.ReportPDF))
	}
	s.Rank()
	html, err := s.HTML()
	if err != nil {
		return err
	}
	var results bytes.Buffer
	if err := printJSON(&results, r); err != nil {
		return err
	}
	return errors.Join(writeBelow(f.out, "index.html", html), writeBelow(f.out, demoMark, results.Bytes()))
}

func (f *demoFlags) tell(c *cobra.Command, r *demoResults) error {
	if f.json {
		if err := printJSON(c.OutOrStdout(), r); err != nil {
			return err
		}
	} else {
		f.table(c.OutOrStdout(), r)
	}
	if r.Escapes > 0 || r.FalseRejects > 0 {
		return &outcome{code: exitBad, err: fmt.Errorf("%d faulty units passed, %d good units were rejected", r.Escapes, r.FalseRejects)}
	}
	return nil
}

func (f *demoFlags) table(w io.Writer, r *demoResults) {
	for _, one := range r.Results {
		failed := strings.Join(one.ChecksFailed, ", ")
		fmt.Fprintf(w, "%-12s %-10s %-20s %s\n", one.Serial, verdictWord(one.run.Verdict), one.Truth, clipped(failed, 80))
	}
	fmt.Fprintf(w, "\n%d units: %d passed, %d failed, %d without verdict; %d faulty units passed, %d good units rejected\n",
		r.Units, r.Passed, r.Failed, r.NoVerdict, r.Escapes, r.FalseRejects)
	fmt.Fprintf(w, "summary: %s\nledger:  %s\n", filepath.Join(f.out, "index.html"), filepath.Join(f.out, "ledger.db"))
}
