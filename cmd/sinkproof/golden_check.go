package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/golden"
)

// goldenCheck are the flags of sinkproof rig golden check.
type goldenCheck struct {
	goldenPlace
	nest              string
	product, scenario string
	serials           []string
	due, json         bool
	twinUnit          map[string]string
	stand             standing
}

func newGoldenCheck() *cobra.Command {
	var f goldenCheck
	c := described(&cobra.Command{
		Use:   "check",
		Short: "Runs the golden units and opens the shift",
		Long: `Runs every golden unit of the rig and the product, one after the other, and holds
its answer against what is expected. When all of them answered as expected the
shift is open, until the first answer ends to stand.

One that deviates puts every record since its last good answer under suspicion,
and the reports of those records in the output folder say so.

On a rig with several nests each is proved for itself (--nest), and only its own
shift is open.

Exit code 1 says that a golden unit deviates, 3 that one gave no answer.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig golden check
  sinkproof rig golden check --rig bench.hcl --product lamp.hcl --scenario line.hcl --due
  sinkproof rig golden check --twin-unit GOLD-1=no-rd`)
	fs := c.Flags()
	f.flags(fs)
	fs.StringVar(&f.nest, "nest", "", "`nest` to prove, on a rig with several")
	fs.StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	fs.StringVar(&f.scenario, "scenario", defaultScenario, "scenario `file`, or the name of a shipped scenario")
	fs.StringSliceVar(&f.serials, "serial", nil, "only these `serials`")
	fs.BoolVar(&f.due, "due", false, "only those that keep the shift closed")
	fs.StringToStringVar(&f.twinUnit, "twin-unit", nil, "`SERIAL=FAULTS`: what the twin seats instead; good, or faults joined by +")
	f.stand.flags(fs)
	fs.BoolVar(&f.json, "json", false, "print it for a program")
	return c
}

// checkedGolden is a golden unit that was run.
type checkedGolden struct {
	Serial     string   `json:"serial"`
	Title      string   `json:"title"`
	Answer     string   `json:"answer"`
	Deviations []string `json:"deviations,omitempty"`
	Run        string   `json:"run"`
	Report     string   `json:"report"`
	// Suspects are the serials under suspicion because of it.
	Suspects []string `json:"suspects,omitempty"`
}

// shiftReport is what a check of the golden units found.
type shiftReport struct {
	Rig     string          `json:"rig"`
	Product string          `json:"product"`
	Open    bool            `json:"open"`
	Until   string          `json:"until,omitempty"`
	Closed  []string        `json:"closed_by,omitempty"`
	Checked []checkedGolden `json:"checked"`
}

func (f *goldenCheck) run(c *cobra.Command) (err error) {
	p, err := load(f.rig, f.product, f.scenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	seen, err := oneNest(p.rig, f.nest)
	if err != nil {
		return err
	}
	p = p.on(seen.Rig)
	s, leave, err := f.station(c, p)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, leave()) }()
	if err := f.stand.choose(c.Context(), s); err != nil {
		return err
	}
	shift, err := s.shift(c.Context())
	if err != nil {
		return err
	}
	units, err := f.chosen(shift)
	if err != nil {
		return err
	}
	out := shiftReport{Rig: s.bench.Name, Product: p.product.Name, Checked: []checkedGolden{}}
	for _, u := range units {
		one, err := s.prove(c.Context(), u.Golden)
		if one.Run != "" {
			out.Checked = append(out.Checked, one)
		}
		if err != nil {
			return errors.Join(err, f.tell(c.OutOrStdout(), out))
		}
		if sim, ok := s.handler.(*simulated); ok {
			sim.twin.Unseat()
		}
	}
	if shift, err = s.shift(c.Context()); err != nil {
		return err
	}
	out.standing(shift)
	if err := f.tell(c.OutOrStdout(), out); err != nil {
		return err
	}
	return out.outcome()
}

// station opens rig and ledger.
func (f *goldenCheck) station(c *cobra.Command, p *papers) (*station, func() error, error) {
	s := &station{papers: p, screen: newScreen(c.ErrOrStderr()), out: f.out}
	leave := func() error { return nil }
	var err error
	if p.own {
		var pc *computer
		if pc, err = openComputer(c.Context(), p.rig.Rig, "sinkproof golden"); err != nil {
			return nil, nil, err
		}
		s.handler, s.hardware, leave = &operator{in: bufio.NewReader(c.InOrStdin()), out: c.ErrOrStderr()}, pc.Hardware, pc.Close
		s.identity, err = hardwareIdentity(p, f.path())
	} else {
		err = f.simulate(s)
	}
	if err == nil {
		err = makeFolder(filepath.Dir(f.path()))
	}
	if err == nil {
		err = tryBench(c.Context(), p, s.hardware)
	}
	if err == nil {
		err = s.openLedger(c.Context(), f.path())
	}
	if err != nil {
		return nil, nil, errors.Join(err, leave())
	}
	return s, func() error { return errors.Join(s.ledger.Close(), leave()) }, nil
}

// simulate makes a twin that seats what --twin-unit says.
func (f *goldenCheck) simulate(s *station) error {
	sim, err := newSimulated(s.papers, f.seed, false)
	if err != nil {
		return err
	}
	for serial, text := range f.twinUnit {
		if sim.truth[serial], err = twin.ParseFaults(text); err != nil {
			return usage("sinkproof run --list-faults lists them", "--twin-unit %s=%s: %w", serial, text, err)
		}
	}
	s.handler, s.hardware = sim, sim.twin.Hardware()
	s.identity, err = twinIdentity(s.papers, f.seed, s.hardware.Clock)
	return err
}

// chosen are the golden units to run.
func (f *goldenCheck) chosen(shift golden.Shift) ([]golden.Unit, error) {
	if len(shift.Duties) == 0 {
		return nil, refused(shift.Open(), "sinkproof rig golden add registers one")
	}
	var list []golden.Unit
	var known []string
	for _, d := range shift.Duties {
		known = append(known, d.Unit.Serial)
		if (len(f.serials) == 0 || slices.Contains(f.serials, d.Unit.Serial)) && (!f.due || d.Err != nil) {
			list = append(list, d.Unit)
		}
	}
	for _, serial := range f.serials {
		if !slices.Contains(known, serial) {
			return nil, usage("sinkproof rig golden list shows them", "--serial %s is no golden unit of this rig and product", serial)
		}
	}
	return list, nil
}

// prove runs one golden unit. The order of the evidence is that of judge; the
// answer and the suspicion that may follow are committed together.
func (s *station) prove(ctx context.Context, g record.Golden) (checkedGolden, error) {
	one := checkedGolden{Serial: g.Serial, Title: g.Title}
	if err := s.seatable(g); err != nil {
		return one, err
	}
	before, err := s.ledger.GoldenAttempts(ctx, g.Serial)
	if err != nil {
		return one, fmt.Errorf("look up %s: %w", g.Serial, err)
	}
	opening, err := s.opening(unit{serial: g.Serial}, goldenIDs+before.Runs+1)
	if err != nil {
		return one, err
	}
	opening.Attempt = before.Runs + 1
	opening, _, err = s.ledger.OpenGolden(ctx, opening)
	if err != nil {
		return one, openingRefused(unit{serial: g.Serial}, err)
	}
	keep := context.WithoutCancel(ctx)
	rig, relays, err := openBench(ctx, s.papers, s.hardware)
	if err != nil {
		_, kept := s.ledger.InterruptRun(keep, opening.ID, "the rig could not be opened: "+err.Error())
		return one, errors.Join(err, kept)
	}
	s.handler.attend(rig)
	// What a golden unit answers is the proof of the bench.
	run, runErr := s.watched(ctx, rig, relays, opening, nil)
	if err := rig.Close(); err != nil && run.Verdict != record.None {
		runErr = errors.Join(runErr, benchTrouble(err))
	}
	answer, suspicion, entry, err := s.ledger.CloseGolden(keep, run)
	if err != nil {
		return one, errors.Join(noJudge(fmt.Errorf("commit the golden run of %s: %w", g.Serial, err),
			"mend what the ledger complains of, then run sinkproof rig golden check again: the next start closes this run as interrupted"), runErr)
	}
	s.screen.closed(run)
	one.Answer, one.Deviations, one.Run = string(answer.Answer), answer.Deviations, run.ID
	if suspicion != nil {
		one.Suspects = suspicion.Serials()
	}
	one.Report, err = s.publishGolden(g, answer, entry)
	if err == nil && suspicion != nil {
		err = s.republish(keep, *suspicion)
	}
	if err != nil {
		err = noJudge(err, "the golden run is safe in the ledger, only its files are missing: mend the output folder")
	}
	return one, errors.Join(runErr, err)
}

// seatable tells the twin which board a golden unit is.
func (s *station) seatable(g record.Golden) error {
	sim, ok := s.handler.(*simulated)
	if !ok {
		return nil
	}
	if _, told := sim.truth[g.Serial]; told {
		return nil
	}
	faults, err := twin.ParseFaults(g.Fault)
	if err != nil {
		return usage("--twin-unit "+g.Serial+"=FAULTS says which", "the twin cannot build golden unit %s: %w", g.Serial, err)
	}
	sim.truth[g.Serial] = faults
	return nil
}

// goldenIDs keeps the ids of golden runs on the twin apart from those of the
// serial's runs as a product, which count from 1 as well.
const goldenIDs = 1_000_000

// publishGolden writes record and reports of a golden run.
func (s *station) publishGolden(g record.Golden, answer record.GoldenRun, entry record.Entry) (string, error) {
	folder := filepath.Join("golden", folderName(g.Serial), fmt.Sprintf("run-%d", answer.Run.Attempt))
	report := page.NewReport(answer.Run, page.Proof{Hash: entry.Hash, Head: entry.Hash, Seq: entry.Seq, Key: entry.Key})
	report.Prove(g, answer)
	path := filepath.Join(folder, "report.html")
	return path, s.write(folder, report, entry.Body)
}

// write writes a report below a folder, and the record where there is one.
func (s *station) write(folder string, report page.Report, body []byte) error {
	html, err := report.HTML()
	if err != nil {
		return err
	}
	pdf, err := report.PDF()
	if err != nil {
		return err
	}
	err = errors.Join(writeBelow(s.out, filepath.Join(folder, "report.html"), html), writeBelow(s.out, filepath.Join(folder, "report.pdf"), pdf))
	if body != nil {
		err = errors.Join(err, writeBelow(s.out, filepath.Join(folder, "record.json"), body))
	}
	return err
}

// republish makes the reports of suspects in the output folder say what falls
// on them. Records stay as they are.
func (s *station) republish(ctx context.Context, about record.Suspicion) error {
	by, err := s.ledger.Suspects(ctx)
	if err != nil {
		return fmt.Errorf("look up what falls on the records: %w", err)
	}
	head, hash, err := s.ledger.Head(ctx)
	if err != nil || head == 0 {
		return err
	}
	for _, x := range about.Suspects {
		run, entry, err := s.ledger.Run(ctx, x.Run)
		if err != nil {
			return err
		}
		folder := runFolder(run.Serial, run.Attempt)
		if !exists(filepath.Join(s.out, folder, "report.html")) {
			continue // its reports are elsewhere
		}
		report := page.NewReport(run, page.Proof{Hash: entry.Hash, Head: hash, Seq: entry.Seq, Key: entry.Key})
		for _, on := range by[x.Run] {
			report.Suspect(on.Suspicion, on.Withdrawn)
		}
		if err := s.write(folder, report, nil); err != nil {
			return err
		}
	}
	return nil
}

// standing fills in whether the shift is open.
func (r *shiftReport) standing(shift golden.Shift) {
	r.Open = shift.Open() == nil
	if r.Open {
		r.Until = record.Instant(shift.Until())
		return
	}
	for _, d := range shift.Duties {
		if d.Err != nil {
			r.Closed = append(r.Closed, fmt.Sprintf("%s: %v", d.Unit.Serial, d.Err))
		}
	}
}

func (f *goldenCheck) tell(w io.Writer, r shiftReport) error {
	if f.json {
		return printJSON(w, r)
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, g := range r.Checked {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", g.Serial, answerWord(record.GoldenAnswer(g.Answer)), g.Title, filepath.Join(f.out, g.Report))
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the golden units: %w", err)
	}
	for _, g := range r.Checked {
		for _, d := range g.Deviations {
			fmt.Fprintf(w, "  %s: %s\n", g.Serial, d)
		}
		if g.Answer == string(record.Deviates) {
			fmt.Fprintf(w, "  under suspicion since the last good answer of %s: %s\n", g.Serial, suspectWords(g.Suspects))
		}
	}
	if r.Open {
		_, err := fmt.Fprintf(w, "the shift is open for %s on %s until %s\n", r.Product, r.Rig, r.Until)
		return err
	}
	_, err := fmt.Fprintf(w, "the shift is CLOSED for %s on %s\n", r.Product, r.Rig)
	return err
}

func answerWord(a record.GoldenAnswer) string {
	switch a {
	case record.AsExpected:
		return "as expected"
	case record.Deviates:
		return "DEVIATES"
	}
	return "no answer"
}

// suspectWords names serials under suspicion.
func suspectWords(serials []string) string {
	if len(serials) == 0 {
		return "nothing, no unit was tested"
	}
	return fmt.Sprintf("%d serials: %s", len(serials), strings.Join(serials, ", "))
}

// outcome is the exit code of a check.
func (r *shiftReport) outcome() error {
	code := exitDone
	for _, g := range r.Checked {
		switch record.GoldenAnswer(g.Answer) {
		case record.Deviates:
			return &outcome{code: exitBad, err: errors.New("a golden unit deviates: the rig is not fit to judge"),
				hint: "sinkproof rig selftest looks for what is wrong with the rig; test the suspects again afterwards"}
		case record.NoAnswer:
			code = exitNoJudge
		}
	}
	if code == exitNoJudge {
		return noJudge(errors.New("a golden unit gave no answer"), "mend what it says and run sinkproof rig golden check --due")
	}
	if !r.Open {
		return &outcome{code: exitRefused, err: fmt.Errorf("the shift stays closed: %s", strings.Join(r.Closed, "; ")), hint: "sinkproof rig golden check --due runs what is missing"}
	}
	return nil
}
