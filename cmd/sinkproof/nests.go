package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench"
	"sinkproof/bench/turns"
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

// sideBySide lets nests take their units on one computer: each has supplies,
// relays and converters of its own, drawn from a seed of its own, and all share
// the loop that carries the transfers, one at a time.
func sideBySide(ctx context.Context, p *papers, seeds []uint64, units [][]nestUnit) ([]nestWork, error) {
	base := jumpingClock{twin.NewTime()}
	table := turns.New(base, len(seeds))
	done := make([]nestWork, len(seeds))
	works := make([]func(context.Context) error, len(seeds))
	for i := range works {
		works[i] = func(ctx context.Context) error {
			err := takeNest(ctx, p, seeds[i], base.Timebase, table.Seat(i), units[i], &done[i])
			if err != nil {
				return fmt.Errorf("nest %d: %w", i+1, err)
			}
			return nil
		}
	}
	return done, table.Run(ctx, works...)
}

// jumpingClock is the clock of a timebase.
type jumpingClock struct{ twin.Timebase }

// Sleep lets d pass.
func (c jumpingClock) Sleep(ctx context.Context, d time.Duration) error {
	return c.Reach(ctx, c.Now()+max(d, 0))
}

// takeNest opens the rig of one nest, takes its units and closes it.
func takeNest(ctx context.Context, p *papers, seed uint64, base twin.Timebase, clock bench.Clock, units []nestUnit, w *nestWork) (err error) {
	t, err := twin.New(twin.Config{Wiring: p.rig.Rig, Product: p.product, Seed: seed, Base: base})
	if err != nil {
		return fmt.Errorf("simulate the rig %s: %w", p.rig.Rig.Name, err)
	}
	hw := t.Hardware()
	hw.Clock = clock
	for name, b := range hw.Buses {
		hw.Buses[name] = &timedBus{Bus: b, clock: clock, busy: &w.busy}
	}
	l, err := openLine(ctx, p, seed, &simulated{twin: t, truth: map[string][]twin.Fault{}}, hw, nil)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.rig.Close()) }()
	w.busy, w.begin = 0, clock.Now()
	for _, u := range units {
		run, err := l.take(ctx, u.serial, nil, u.faults...)
		if err != nil {
			return fmt.Errorf("unit %s: %w", u.serial, err)
		}
		w.runs = append(w.runs, run)
	}
	w.end = clock.Now()
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
	// Differences are units that are judged otherwise side by side than alone.
	Differences []string `json:"differences"`
}

// studyNests runs the same units alone and side by side at a bus frequency.
func studyNests(ctx context.Context, p *papers, seed uint64, hertz float64, units [][]nestUnit) (nestStudy, error) {
	q := *p
	q.rig.Rig = atFrequency(p.rig.Rig, hertz)
	s := nestStudy{Nests: len(units), Hertz: hertz, Differences: []string{}}
	seeds := make([]uint64, len(units))
	alone := make([]nestWork, len(units))
	for i := range units {
		seeds[i] = seed + uint64(i)
		one, err := sideBySide(ctx, &q, seeds[i:i+1], units[i:i+1])
		if err != nil {
			return s, err
		}
		alone[i] = one[0]
		s.One += one[0].perHour() / float64(len(units))
		s.OneLoad += float64(one[0].busy) / float64(one[0].end-one[0].begin) / float64(len(units))
	}
	all, err := sideBySide(ctx, &q, seeds, units)
	if err != nil {
		return s, err
	}
	for i, w := range all {
		s.All += w.perHour()
		s.Load += float64(w.busy) / float64(w.end-w.begin)
		for k, run := range w.runs {
			if is, was := judgedAs(run), judgedAs(alone[i].runs[k]); is != was {
				s.Differences = append(s.Differences, fmt.Sprintf("nest %d, %s: alone %s, side by side %s", i+1, run.Serial, was, is))
			}
		}
	}
	s.Times = s.All / s.One
	return s, nil
}

// judgedAs is the verdict of a run with the checks that failed.
func judgedAs(run record.Run) string {
	failed := []string{}
	for _, c := range run.Checks {
		if c.Answer == record.Failed {
			failed = append(failed, c.Name)
		}
	}
	slices.Sort(failed)
	return strings.TrimSpace(string(run.Verdict) + " " + strings.Join(failed, ", "))
}

// atFrequency is a rig whose buses run at another frequency. How small a
// capacitance its empty nest can be told from follows from how soon after a coil
// the converter starts, which is a matter of transfers.
func atFrequency(rig *wiring.Rig, hertz float64) *wiring.Rig {
	r := *rig
	r.Buses = slices.Clone(rig.Buses)
	for i := range r.Buses {
		if own := r.Buses[i].Frequency.SI; hertz < own {
			r.Nest.Empty.SI = max(r.Nest.Empty.SI, rig.Nest.Empty.SI*own/hertz)
		}
		r.Buses[i].Frequency.SI = hertz
	}
	return &r
}
