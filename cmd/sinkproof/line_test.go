package main

import (
	"context"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// line is a simulated rig that takes units one after the other, without
// ledger and pages.
type line struct {
	papers *papers
	sim    *simulated
	rig    *bench.Rig
	log    *scenarios.RelayLog
	id     identity
	// given is what somebody measured of the unit's own cell.
	given map[string]quantity.Quantity
}

// newLine opens a drawn rig on the shipped files, or on a scenario of the
// caller's.
func newLine(p *papers, seed uint64) (*line, error) {
	sim, err := newSimulated(p, seed, false)
	if err != nil {
		return nil, err
	}
	hw := sim.twin.Hardware()
	l := &line{papers: p, sim: sim, given: map[string]quantity.Quantity{"open-circuit": p.product.Cell.Volts.Nominal}}
	if l.id, err = twinIdentity(p, seed, hw.Clock); err != nil {
		return nil, err
	}
	if l.rig, l.log, err = openBench(context.Background(), p, hw); err != nil {
		return nil, err
	}
	return l, nil
}

// judge runs one unit and takes it out again.
func (l *line) judge(serial string, faults ...twin.Fault) (record.Run, error) {
	l.sim.truth[serial] = faults
	defer l.sim.twin.Unseat()
	id, err := record.NewID(l.id.now(), l.id.random(serial, 1))
	if err != nil {
		return record.Run{}, err
	}
	return scenarios.Run(context.Background(), scenarios.Job{
		Opening: record.Opening{
			ID: id, Serial: serial, Product: l.papers.product.Name, Attempt: 1, Bench: l.id.bench,
			Started: record.Instant(l.id.now()), Files: l.papers.files, Decision: l.papers.scenario.Decision,
		},
		Scenario: l.papers.scenario, Bench: l.rig, Handler: l.sim, Relays: l.log, Given: l.given,
	})
}

func shippedPapers(t testing.TB) *papers {
	t.Helper()
	p, err := load(defaultRig, defaultProduct, defaultScenario, io.Discard)
	require.NoError(t, err)
	return p
}

// failedNames lists the checks that a run failed by.
func failedNames(run record.Run) []string {
	var names []string
	for _, c := range run.Checks {
		if c.Answer == record.Failed {
			names = append(names, c.Name)
		}
	}
	return names
}

func BenchmarkRun(b *testing.B) {
	p := shippedPapers(b)
	l, err := newLine(p, 1)
	require.NoError(b, err)
	start := l.sim.twin.Truth().Now()
	b.ReportAllocs()
	b.ResetTimer()
	for i := range b.N {
		run, err := l.judge(fmt.Sprintf("B-%06d", i))
		require.NoError(b, err)
		require.Equal(b, record.Pass, run.Verdict, run.Reason)
	}
	b.ReportMetric((l.sim.twin.Truth().Now()-start).Seconds()/float64(b.N), "bench-s/op")
}
