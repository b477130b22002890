package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/fixtures/source"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// runFlags are the flags of sinkproof run.
type runFlags struct {
	rig, scenario, product string
	unit
	serials    []string
	given      map[string]string
	twinUnits  []string
	seed       uint64
	ledger     string
	out        string
	json       bool
	realtime   bool
	listFaults bool
	findings   string
	noProof    string
	noPins     string
	stand      standing
	proven     proven
}

func newRun() *cobra.Command {
	var f runFlags
	c := described(&cobra.Command{
		Use:   "run --serial S",
		Short: "Runs units on a rig and gives their verdicts",
		Long: `Runs a scenario on one unit: the nest is measured empty, the unit is seated,
every supply is put in front of it, and the record is signed and kept. Before a
unit is failed it is taken out, and the bench proves itself with its nest empty:
a contact that failed since the last self-test looks like many a fault of a unit.
Then the check receptacle is asked for, which proves the pins of the test plug: one
that does not touch looks like a part that the unit lacks. On the terminal, whatever
is typed instead of Enter is the reason why there is none; the unit is failed then,
and the record says so, as with --no-receptacle REASON.

With a wiring file of your own (--rig FILE) the run is on hardware. With a
shipped rig, which is the default, or with --twin-unit it is on the twin.

On a rig with several nests each takes its own units and judges them for itself,
side by side with the others; a nest is named by its name or its number. Without
--serial the units are scanned, from standard input until it ends: a nest, then the
serial of its unit, as two lines or as one. A nest that asks to have a unit seated
or taken out is answered by scanning it.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof run --serial HL-0001
  sinkproof run --serial HL-0002 --twin-unit no-rd
  sinkproof run --rig bench-four --serial 1=HL-0004 --serial 2=HL-0005 --twin-unit HL-0005=no-rd
  sinkproof run --rig bench.hcl --scenario line.hcl --product lamp.hcl --serial HL-0003 --lot 26-11`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.scenario, "scenario", defaultScenario, "scenario `file`, or the name of a shipped scenario")
	fs.StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	fs.StringArrayVar(&f.serials, "serial", nil, "the unit's `serial`; on a rig with several nests NEST=SERIAL, once for each unit")
	fs.StringVar(&f.lot, "lot", "", "the `lot` that the unit belongs to")
	fs.StringVar(&f.supplier, "supplier", "", "the `supplier` of the lot")
	fs.StringVar(&f.allowedBy, "allowed-by", "", "`name` of the engineer who allows a run beyond the one retest")
	fs.StringToStringVar(&f.given, "given", nil, "`name=value` of what the scenario asks for and cannot read, such as open-circuit=3.7V")
	fs.StringArrayVar(&f.twinUnits, "twin-unit", nil, "run on the twin with this unit: good, or `faults` joined by +; on a rig with several nests SERIAL=FAULTS")
	fs.Uint64Var(&f.seed, "seed", 1, "seed of the twin")
	fs.StringVar(&f.ledger, "ledger", "", "the ledger's `file` (default ledger.db in the output folder)")
	fs.StringVar(&f.out, "out", "sinkproof-runs", "output `folder` for records and reports")
	fs.StringVar(&f.findings, "findings", findingsAuto, "auto: where there is a fault dictionary; build: make it where there is none; off")
	f.stand.flags(fs)
	f.proven.flags(fs)
	fs.StringVar(&f.noProof, "no-proof", "", "`reason` to fail a unit without the bench proving itself with its nest empty; the record says so")
	fs.StringVar(&f.noPins, "no-receptacle", "", "`reason` to fail a unit without the pins of the test plug proved by the check receptacle; the record says so")
	fs.BoolVar(&f.json, "json", false, "print the record")
	fs.BoolVar(&f.realtime, "realtime", false, "let the twin take the time that hardware would")
	fs.BoolVar(&f.listFaults, "list-faults", false, "list the faults that a twin's unit can have")
	return c
}

func (f *runFlags) run(c *cobra.Command) error {
	if f.listFaults {
		return listFaults(c.OutOrStdout(), f.json)
	}
	p, err := load(f.rig, f.product, f.scenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	if len(p.nests()) > 1 {
		return f.several(c, p)
	}
	faults, err := f.single()
	if err != nil {
		return err
	}
	given, err := givenValues(p.scenario, f.given)
	if err != nil {
		return err
	}
	if f.ledger == "" {
		f.ledger = filepath.Join(f.out, "ledger.db")
	}
	if err := makeFolder(filepath.Dir(f.ledger)); err != nil {
		return err
	}
	s, closeStation, err := f.station(c, p, faults)
	if err != nil {
		return err
	}
	s.given = given
	if s.findings, err = newDiagnostician(c.Context(), p, f.findings, s.screen); err != nil {
		return errors.Join(err, closeStation())
	}
	d, err := s.take(c.Context(), f.unit)
	err = errors.Join(err, closeStation())
	if d.run.ID == "" {
		return err
	}
	if f.json {
		err = errors.Join(err, printRaw(c.OutOrStdout(), d.entry.Body))
	} else {
		f.print(c.OutOrStdout(), s, d)
	}
	if err != nil {
		return err
	}
	return exitOf(d.run)
}

// single is the one unit of a rig with one nest.
func (f *runFlags) single() ([]twin.Fault, error) {
	switch {
	case len(f.serials) == 0 || f.serials[0] == "":
		return nil, usage("give the unit's serial: --serial S", "no serial")
	case len(f.serials) > 1:
		return nil, usage("run them one after the other", "%d serials for a rig with one nest", len(f.serials))
	case len(f.twinUnits) > 1:
		return nil, usage("faults of one unit are joined by +", "%d twin units for a rig with one nest", len(f.twinUnits))
	}
	f.serial = f.serials[0]
	text := strings.Join(f.twinUnits, "")
	faults, err := twin.ParseFaults(text)
	if err != nil {
		return nil, usage("sinkproof run --list-faults lists them", "--twin-unit %s: %w", text, err)
	}
	return faults, nil
}

// givenValues reads the values of --given: each must be one that the scenario
// asks for, in its dimension.
func givenValues(sc *scenarios.Scenario, texts map[string]string) (map[string]quantity.Quantity, error) {
	asked := map[string]quantity.Dim{}
	for _, stage := range sc.Stages {
		for _, step := range stage.Steps {
			if g, ok := step.(scenarios.Given); ok {
				asked[g.Name] = g.Dim
			}
		}
	}
	names := slices.Sorted(maps.Keys(asked))
	values := map[string]quantity.Quantity{}
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		dim, known := asked[name]
		if !known {
			hint := "leave it out: scenario " + sc.Name + " asks for nothing on this product"
			if len(names) > 0 {
				hint = source.Suggest(name, names)
			}
			return nil, usage(hint, "--given %s: scenario %s asks for no such value", name, sc.Name)
		}
		q, err := quantity.ParseAs(texts[name], dim)
		if err != nil {
			return nil, usage("", "--given %s: %w", name, err)
		}
		values[name] = q
	}
	return values, nil
}

// station opens rig and ledger, on the twin or on hardware. What it returns
// closes both.
func (f *runFlags) station(c *cobra.Command, p *papers, faults []twin.Fault) (*station, func() error, error) {
	s := &station{papers: p, screen: newScreen(c.ErrOrStderr()), out: f.out, noProof: f.noProof, noReceptacle: f.noPins}
	if p.own && len(f.twinUnits) == 0 {
		return f.real(c, s)
	}
	sim, err := newSimulated(p, f.seed, f.realtime)
	if err != nil {
		return nil, nil, err
	}
	sim.truth[f.serial] = faults
	s.handler, s.hardware = sim, sim.twin.Hardware()
	if s.identity, err = twinIdentity(p, f.seed, s.hardware.Clock); err != nil {
		return nil, nil, err
	}
	return f.ready(c.Context(), s, func() error { return nil })
}

func (f *runFlags) real(c *cobra.Command, s *station) (*station, func() error, error) {
	pc, err := openComputer(c.Context(), s.papers.rig.Rig, "sinkproof run")
	if err != nil {
		return nil, nil, err
	}
	s.handler = &operator{in: bufio.NewReader(c.InOrStdin()), out: c.ErrOrStderr()}
	s.hardware = pc.Hardware
	if s.identity, err = hardwareIdentity(s.papers, f.ledger); err != nil {
		return nil, nil, errors.Join(err, pc.Close())
	}
	return f.ready(c.Context(), s, pc.Close)
}

// ready tries the bench and opens the ledger. What it returns closes both.
func (f *runFlags) ready(ctx context.Context, s *station, leave func() error) (*station, func() error, error) {
	err := tryBench(ctx, s.papers, s.hardware)
	if err == nil {
		err = s.openLedger(ctx, f.ledger)
	}
	if err == nil {
		err = f.stand.choose(ctx, s)
		if err == nil {
			err = f.proven.demand(ctx, s)
		}
		if err != nil {
			err = errors.Join(err, s.ledger.Close())
		}
	}
	if err != nil {
		return nil, nil, errors.Join(err, leave())
	}
	return s, func() error { return errors.Join(s.ledger.Close(), leave()) }, nil
}

// openLedger opens the station's ledger, leaves the public key beside it for
// those who verify, and tells of runs that were found open.
func (s *station) openLedger(ctx context.Context, path string) error {
	l, err := ledger.Open(ctx, path, ledger.Opts{Key: s.key})
	if err != nil {
		return ledgerTrouble(err)
	}
	s.ledger = l
	for _, i := range l.Interrupted {
		s.screen.line("%s  closed as interrupted: %s", i.Serial, i.Reason)
	}
	public := path + ".pub"
	if _, err := os.Stat(public); err == nil {
		return nil
	}
	if err := record.SavePublicKey(public, record.Public(s.key)); err != nil {
		return fmt.Errorf("save the public key %s: %w", public, err)
	}
	return nil
}

// ledgerTrouble turns what a ledger says, which names its file, into an
// outcome.
func ledgerTrouble(err error) error {
	switch {
	case errors.Is(err, record.ErrKey):
		return refused(err, "it was begun by another bench, or by the twin with another --seed: name another --ledger")
	case errors.Is(err, ledger.ErrWriter):
		return refused(err, "end the other program first")
	case errors.Is(err, context.Canceled):
		return err // somebody interrupted
	case errors.Is(err, ledger.ErrColumnsDamaged):
		return usage("ask again: they are made anew from the entries", "%w", err)
	case errors.Is(err, record.ErrAltered), errors.Is(err, record.ErrForm), errors.Is(err, record.ErrMisplaced):
		return usage("sinkproof ledger verify says which entries are good", "%w", err)
	case errors.Is(err, ledger.ErrDamaged):
		return &outcome{code: exitBad, err: err, hint: "keep the file as it is and restore the ledger from its backup"}
	case errors.Is(err, ledger.ErrFull):
		return refused(err, "make room on the disk")
	case errors.Is(err, ledger.ErrNewer):
		return usage("use the version of sinkproof that wrote it, or a later one", "%w", err)
	}
	return usage("name the ledger, and a folder that may be written: --ledger FILE", "%w", err)
}

func (f *runFlags) print(w io.Writer, s *station, d done) {
	fmt.Fprintf(w, "%s  %s  bin: %s\n", d.run.Serial, newScreen(w).verdict(d.run.Verdict), d.run.Bin)
	for _, c := range d.run.Checks {
		if c.Answer == record.Failed {
			fmt.Fprintf(w, "  failed: %s\n", c.Title)
		}
	}
	printFindings(w, d.run)
	for _, path := range []string{d.record, d.html, d.pdf} {
		fmt.Fprintf(w, "  %s\n", filepath.Join(s.out, path))
	}
}

// printRaw prints bytes that must stay as they were signed.
func printRaw(w io.Writer, data []byte) error {
	if _, err := w.Write(append(data[:len(data):len(data)], '\n')); err != nil {
		return fmt.Errorf("print the record: %w", err)
	}
	return nil
}

func listFaults(w io.Writer, asJSON bool) error {
	all := twin.Faults()
	if asJSON {
		type fault struct {
			Name  string `json:"name"`
			Title string `json:"title"`
			Plain string `json:"description"`
		}
		list := make([]fault, 0, len(all))
		for _, d := range all {
			list = append(list, fault{d.Name, d.Title, d.Plain})
		}
		return printJSON(w, list)
	}
	for _, d := range all {
		fmt.Fprintf(w, "%-20s %s\n", d.Name, d.Title)
	}
	return nil
}
