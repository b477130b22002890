package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
)

// several runs units in the nests of a rig side by side.
func (f *runFlags) several(c *cobra.Command, p *papers) error {
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
	s := &station{papers: p, screen: newScreen(c.ErrOrStderr()), out: f.out, noProof: f.noProof, noReceptacle: f.noPins, given: given}
	r, leave, err := f.row(c, s)
	if err != nil {
		return err
	}
	runs, errs, ready := f.work(c, s, r)
	if err := errors.Join(ready, leave()); err != nil {
		return err
	}
	return worst(runs, errs)
}

// work tries the nests, opens the ledger and takes the units.
func (f *runFlags) work(c *cobra.Command, s *station, r *row) (runs []done, errs []error, err error) {
	ctx := c.Context()
	if err := r.try(ctx); err != nil {
		return nil, nil, err
	}
	if err := s.openLedger(ctx, f.ledger); err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	if s.findings, err = newDiagnostician(ctx, s.papers, f.findings, s.screen); err != nil {
		return nil, nil, err
	}
	for i, nest := range r.nests {
		nest.ledger, nest.findings = s.ledger, s.findings
		err := f.stand.choose(ctx, nest)
		if err == nil {
			err = f.proven.demand(ctx, nest)
		}
		if err != nil && r.out[i] == nil {
			r.refuse(i, err)
		}
	}
	if err := r.idle(); err != nil {
		return nil, nil, err
	}
	var unprinted error
	r.told = func(d done) {
		runs = append(runs, d)
		if f.json {
			unprinted = errors.Join(unprinted, printRaw(c.OutOrStdout(), d.entry.Body))
			return
		}
		fmt.Fprintf(c.OutOrStdout(), "nest %d  ", d.run.Nest)
		f.print(c.OutOrStdout(), s, d)
	}
	errs = r.run(ctx)
	return runs, errs, unprinted
}

// row makes the stations of all nests, on the twin or on hardware, and where their
// units come from. What it returns with them gives the rig back.
func (f *runFlags) row(c *cobra.Command, s *station) (*row, func() error, error) {
	real := s.papers.own && len(f.twinUnits) == 0
	if !real {
		return f.twinRow(c, s)
	}
	pc, err := openComputer(c.Context(), s.papers.rig.Rig, "sinkproof run")
	if err != nil {
		return nil, nil, err
	}
	s.hardware = pc.Hardware
	if s.identity, err = hardwareIdentity(s.papers, f.ledger); err != nil {
		return nil, nil, errors.Join(err, pc.Close())
	}
	var all []*hands
	var handlers []handler
	for i := range s.papers.nests() {
		h := &hands{nest: i}
		all, handlers = append(all, h), append(handlers, h)
	}
	r := newRow(s, handlers)
	d := newDesk(c.InOrStdin(), r.nests[0].screen.w, r.names())
	var one sync.Mutex
	for i, h := range all {
		h.desk = d
		r.nests[i].beside = besideLoop(r.nests[i].hardware.Clock, &one)
	}
	if err := f.serve(r, d, keyboard{d, r}); err != nil {
		return nil, nil, errors.Join(err, pc.Close())
	}
	return r, pc.Close, nil
}

// twinRow is a row on the twin. Its hands need no time, and what it does beside the
// loop takes none: the same seed and the same scans give the same bytes.
func (f *runFlags) twinRow(c *cobra.Command, s *station) (*row, func() error, error) {
	config := twin.Config{Wiring: s.papers.rig.Rig, Product: s.papers.product, Seed: f.seed}
	if f.realtime {
		config.Pace = pacer()
	}
	rig, err := twin.NewRig(config)
	if err != nil {
		return nil, nil, fmt.Errorf("simulate the rig %s: %w", s.papers.rig.Rig.Name, err)
	}
	truth := map[string][]twin.Fault{}
	for _, text := range f.twinUnits {
		serial, faults, ok := strings.Cut(text, "=")
		if !ok {
			return nil, nil, usage("on a rig with several nests: --twin-unit SERIAL=FAULTS", "--twin-unit %s names no unit", text)
		}
		if truth[serial], err = twin.ParseFaults(faults); err != nil {
			return nil, nil, usage("sinkproof run --list-faults lists them", "--twin-unit %s: %w", text, err)
		}
	}
	s.hardware = rig.Hardware()
	if s.identity, err = twinIdentity(s.papers, f.seed, s.hardware.Clock); err != nil {
		return nil, nil, err
	}
	var handlers []handler
	for _, t := range rig.Nests {
		handlers = append(handlers, &simulated{twin: t, truth: truth})
	}
	r := newRow(s, handlers)
	d := newDesk(c.InOrStdin(), r.nests[0].screen.w, r.names())
	err = f.serve(r, d, quickHands{d, rig})
	return r, func() error { return nil }, err
}

// bringer lets time pass until the next unit of a nest is there.
type bringer interface {
	// clear sees to it that the last unit is out.
	clear(ctx context.Context, nest int) error
	// wait lets some time pass in which something may be scanned.
	wait(ctx context.Context, nest int) error
}

// keyboard is a desk on hardware: the loop goes on while nobody scans.
type keyboard struct {
	*desk
	row *row
}

func (k keyboard) wait(ctx context.Context, nest int) error {
	k.look()
	return k.row.nests[nest].hardware.Clock.Sleep(ctx, asking)
}

func (k keyboard) clear(ctx context.Context, nest int) error {
	if k.row.scanning {
		return nil // who scans the next unit has the last one in hand
	}
	k.ask(nest, "take the unit out")
	for !k.answered(nest) {
		if k.ended {
			return errNobody
		}
		if err := k.wait(ctx, nest); err != nil {
			return err
		}
	}
	return nil
}

// quickHands are those of the twin; what is scanned comes before anything else.
type quickHands struct {
	*desk
	rig *twin.Rig
}

func (q quickHands) wait(context.Context, int) error {
	q.desk.wait()
	return nil
}

func (q quickHands) clear(_ context.Context, nest int) error {
	q.rig.Nests[nest].Unseat()
	return nil
}

// serve says where a nest's next unit comes from: the command line, else what is
// scanned at the desk.
func (f *runFlags) serve(r *row, d *desk, b bringer) error {
	names := r.names()
	for _, text := range f.serials {
		name, serial, ok := strings.Cut(text, "=")
		nest := nestNamed(names, name)
		if !ok || nest < 0 || serial == "" {
			return usage(fmt.Sprintf("the rig has the nests %s: --serial NEST=SERIAL", strings.Join(names, ", ")), "--serial %s names no nest of the rig, or no unit", text)
		}
		d.serials[nest] = append(d.serials[nest], serial)
	}
	r.scanning = len(f.serials) == 0
	taken := make([]bool, len(names))
	r.next = func(ctx context.Context, nest int) (unit, bool, error) {
		for {
			if serial, ok := d.next(nest); ok {
				u := f.unit
				u.serial = serial
				before := taken[nest]
				if taken[nest] = true; !before {
					return u, true, nil
				}
				return u, true, b.clear(ctx, nest)
			}
			if !r.scanning || d.ended {
				return unit{}, false, nil
			}
			if err := b.wait(ctx, nest); err != nil {
				return unit{}, false, err
			}
		}
	}
	return nil
}
