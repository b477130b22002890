package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// nestUnit is one unit for a nest.
type nestUnit struct {
	serial string
	faults []twin.Fault
}

// nestWork is what one nest has done.
type nestWork struct {
	runs []record.Run
	// busy is the time of its transfers, out of all from begin to end.
	busy       time.Duration
	begin, end time.Duration
}

// perHour is the takt of the nest in units an hour.
func (w *nestWork) perHour() float64 {
	return float64(len(w.runs)) / (w.end - w.begin).Hours()
}

// sideBySide lets the nests of a simulated rig take their units: one loop carries
// their transfers, one at a time. A nest without units stays shut.
func sideBySide(ctx context.Context, p *papers, seed uint64, units [][]nestUnit) ([]nestWork, error) {
	rig, err := twin.NewRig(twin.Config{Wiring: p.rig.Rig, Product: p.product, Seed: seed})
	if err != nil {
		return nil, fmt.Errorf("simulate the rig %s: %w", p.rig.Rig.Name, err)
	}
	table := bench.NewTable(rig.Hardware(), len(rig.Nests))
	done := make([]nestWork, len(rig.Nests))
	works := make([]func(context.Context) error, len(rig.Nests))
	for i, own := range p.nests() {
		works[i] = func(ctx context.Context) error {
			if i >= len(units) || len(units[i]) == 0 {
				return nil
			}
			sim := &simulated{twin: rig.Nests[i], truth: map[string][]twin.Fault{}}
			if err := takeNest(ctx, own, seed, sim, table.Hardware(i), units[i], &done[i]); err != nil {
				return fmt.Errorf("nest %s: %w", own.rig.Rig.Nest.Name, err)
			}
			return nil
		}
	}
	return done, table.Run(ctx, works...)
}

// takeNest opens one nest, takes its units and closes it.
func takeNest(ctx context.Context, p *papers, seed uint64, sim *simulated, hw bench.Hardware, units []nestUnit, w *nestWork) (err error) {
	carried := hw.Buses
	hw.Buses = map[string]i2c.Bus{}
	for name, b := range carried {
		hw.Buses[name] = &timedBus{Bus: b, clock: hw.Clock, busy: &w.busy}
	}
	l, err := openLine(ctx, p, seed, sim, hw, nil)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.rig.Close()) }()
	w.busy, w.begin = 0, hw.Clock.Now()
	for _, u := range units {
		run, err := l.take(ctx, u.serial, nil, u.faults...)
		if err != nil {
			return fmt.Errorf("unit %s: %w", u.serial, err)
		}
		w.runs = append(w.runs, run)
	}
	w.end = hw.Clock.Now()
	return nil
}

// timedBus adds up how long a bus carries something.
type timedBus struct {
	i2c.Bus
	clock bench.Clock
	busy  *time.Duration
}

// Tx implements i2c.Bus.
func (b *timedBus) Tx(addr uint16, w, r []byte) error {
	start := b.clock.Now()
	err := b.Bus.Tx(addr, w, r)
	*b.busy += b.clock.Now() - start
	return err
}

// nestStudy is what several nests on one computer are worth.
type nestStudy struct {
	Nests int     `json:"nests"`
	Hertz float64 `json:"bus_hertz"`
	// One and All are units an hour, of one nest alone on the average of all
	// and of all side by side.
	One float64 `json:"one_per_hour"`
	All float64 `json:"all_per_hour"`
	// Times is All over One.
	Times float64 `json:"times"`
	// OneLoad and Load are the shares of the time in which a bus carries
	// something, with one nest and with all.
	OneLoad float64 `json:"one_bus_load"`
	Load    float64 `json:"bus_load"`
	// Differences are units with another verdict side by side than alone, Answers
	// those with the same verdict and other checks that failed.
	Differences []string `json:"differences"`
	Answers     []string `json:"answers,omitempty"`
}

// studyNests runs the same units in each nest alone and in all side by side at a
// bus frequency.
func studyNests(ctx context.Context, p *papers, seed uint64, hertz float64, units [][]nestUnit) (nestStudy, error) {
	q := p.on(atFrequency(p.rig.Rig, hertz))
	s := nestStudy{Nests: len(units), Hertz: hertz, Differences: []string{}}
	alone := make([]nestWork, len(units))
	for i := range units {
		only := make([][]nestUnit, len(units))
		only[i] = units[i]
		one, err := sideBySide(ctx, q, seed, only)
		if err != nil {
			return s, err
		}
		alone[i] = one[i]
		s.One += one[i].perHour() / float64(len(units))
		s.OneLoad += float64(one[i].busy) / float64(one[i].end-one[i].begin) / float64(len(units))
	}
	all, err := sideBySide(ctx, q, seed, units)
	if err != nil {
		return s, err
	}
	for i, w := range all[:len(units)] {
		s.All += w.perHour()
		s.Load += float64(w.busy) / float64(w.end-w.begin)
		for k, run := range w.runs {
			before := alone[i].runs[k]
			is, was := failedOnly(run, before), failedOnly(before, run)
			switch {
			case run.Verdict != before.Verdict:
				s.Differences = append(s.Differences, fmt.Sprintf("nest %d, %s: alone %s, side by side %s", i+1, run.Serial, before.Verdict, run.Verdict))
			case is+was != "":
				s.Answers = append(s.Answers, fmt.Sprintf("nest %d, %s: failed alone only: %s; side by side only: %s", i+1, run.Serial,
					cmp.Or(was, "nothing"), cmp.Or(is, "nothing")))
			}
		}
	}
	s.Times = s.All / s.One
	return s, nil
}

// failedOnly names the checks that one run failed and the other did not.
func failedOnly(run, other record.Run) string {
	failed := func(r record.Run) (names []string) {
		for _, c := range r.Checks {
			if c.Answer == record.Failed {
				names = append(names, c.Name)
			}
		}
		return names
	}
	others := failed(other)
	return strings.Join(slices.DeleteFunc(failed(run), func(n string) bool { return slices.Contains(others, n) }), ", ")
}

// atFrequency is a rig whose buses run at another frequency. How small a
// capacitance its empty nest can be told from follows from how soon after a coil
// the converter starts, which is a matter of transfers.
func atFrequency(rig *wiring.Rig, hertz float64) *wiring.Rig {
	r := *rig
	r.Buses, r.Nests = slices.Clone(rig.Buses), slices.Clone(rig.Nests)
	slower := 1.0
	for i := range r.Buses {
		slower = max(slower, r.Buses[i].Frequency.SI/hertz)
		r.Buses[i].Frequency.SI = hertz
	}
	r.Nest.Empty.SI *= slower
	for i := range r.Nests {
		r.Nests[i].Empty.SI *= slower
	}
	return &r
}
