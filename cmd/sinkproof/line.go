package main

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/population"
)

// line is a simulated rig that takes units one after the other, without
// ledger and pages.
type line struct {
	papers   *papers
	scenario *scenarios.Scenario
	sim      *simulated
	rig      *bench.Rig
	id       identity
	// bench is the rig, or what stands before it; at is told of stages.
	bench scenarios.Bench
	at    func(scenarios.Stage, string)
	// given is what somebody measured of the unit's own cell.
	given map[string]quantity.Quantity
}

// newLine opens a rig that is drawn from the seed. Nobody reads its records,
// so it keeps no log of its relays.
func newLine(ctx context.Context, p *papers, seed uint64) (*line, error) {
	return newLineIn(ctx, p, seed, nil)
}

// newLineIn is newLine in the memory of a twin that was retired; nil is none.
func newLineIn(ctx context.Context, p *papers, seed uint64, m *twin.Memory) (*line, error) {
	sim, err := newSimulatedIn(p, seed, false, m)
	if err != nil {
		return nil, err
	}
	return openLine(ctx, p, seed, sim, sim.twin.Hardware(), nil)
}

// openLine opens the rig of a twin on hardware that leads to it.
func openLine(ctx context.Context, p *papers, seed uint64, sim *simulated, hw bench.Hardware, o bench.Observer) (*line, error) {
	l := &line{papers: p, scenario: p.scenario, sim: sim, given: map[string]quantity.Quantity{"open-circuit": p.product.Cell.Volts.Nominal}}
	var err error
	if l.id, err = twinIdentity(p, seed, hw.Clock); err != nil {
		return nil, err
	}
	l.rig, err = bench.Open(ctx, p.rig.Rig, hw, bench.Options{
		Current: p.product.Ceiling.Current, Temperature: p.product.Ceiling.Temperature, Observer: o,
	})
	if err != nil {
		return nil, benchTrouble(err)
	}
	l.bench = l.rig
	return l, nil
}

// take runs one unit and takes it out again. seen, when set, looks at the unit
// while it is still in the nest.
func (l *line) take(ctx context.Context, serial string, seen func(twin.Truth), faults ...twin.Fault) (record.Run, error) {
	l.sim.truth[serial] = faults
	defer delete(l.sim.truth, serial)
	defer l.sim.twin.Unseat()
	id, err := record.NewID(l.id.now(), l.id.random(serial, 1))
	if err != nil {
		return record.Run{}, fmt.Errorf("name the run of %s: %w", serial, err)
	}
	run, err := scenarios.Run(ctx, scenarios.Job{
		Opening: record.Opening{
			ID: id, Serial: serial, Product: l.papers.product.Name, Attempt: 1, Bench: l.id.bench, Nest: l.papers.rig.Rig.Nest.Number,
			Started: record.Instant(l.id.now()), Files: l.papers.files, Decision: l.scenario.Decision,
		},
		Scenario: l.scenario, Bench: l.bench, Handler: l.sim, Given: l.given, At: l.at,
	})
	if seen != nil {
		seen(l.sim.twin.Truth())
	}
	return run, errors.Join(err, l.sim.twin.Truth().Err())
}

// populated is a line as a population wants it.
type populated struct {
	*line
	memories *memories
}

// memories are those of twins that were retired.
type memories struct {
	guard sync.Mutex
	free  []*twin.Memory
}

// take returns one, nil where there is none.
func (m *memories) take() *twin.Memory {
	m.guard.Lock()
	defer m.guard.Unlock()
	n := len(m.free)
	if n == 0 {
		return nil
	}
	last := m.free[n-1]
	m.free = m.free[:n-1]
	return last
}

func (m *memories) keep(one *twin.Memory) {
	m.guard.Lock()
	defer m.guard.Unlock()
	m.free = append(m.free, one)
}

// lines makes the simulated rigs of a population.
func lines(p *papers) population.Factory {
	kept := &memories{}
	return func(ctx context.Context, r population.Rig) (population.Simulator, error) {
		l, err := newLineIn(ctx, p, r.Seed, kept.take())
		if err != nil {
			return nil, err
		}
		return populated{l, kept}, nil
	}
}

// Run implements population.Simulator. The truth of a unit that was taken out
// in the middle of its run is not known.
func (l populated) Run(ctx context.Context, u population.Unit) (population.Outcome, error) {
	var o population.Outcome
	var err error
	o.Run, err = l.take(ctx, u.Serial, func(t twin.Truth) { o.Truth = t.Drawn() }, faultsOf(u)...)
	return o, err
}

// faultsOf are the faults of a unit of a population, each with a severity of its
// own.
func faultsOf(u population.Unit) []twin.Fault {
	faults := make([]twin.Fault, len(u.Faults))
	for i, name := range u.Faults {
		faults[i].Name = name
	}
	return faults
}

// Close implements population.Simulator.
func (l populated) Close() error {
	err := l.rig.Close()
	l.memories.keep(l.sim.twin.Retire())
	return err
}
