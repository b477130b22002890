//go:build !race

package main

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
)

// The sweeps simulate many units on many drawn rigs. They run without the
// race detector, which would make them ten times slower and sees the same
// code in the other tests.

// task is one unit of a sweep.
type task struct {
	serial string
	faults []twin.Fault
}

// sweep runs every task on rigs that are drawn anew for each hundred of them,
// on all cores, and hands each record to judge, one at a time.
func sweep(t *testing.T, p *papers, tasks []task, judge func(task, record.Run)) {
	t.Helper()
	const perRig = 100
	type batch struct {
		seed  uint64
		tasks []task
	}
	batches := make(chan batch)
	var workers sync.WaitGroup
	var guard sync.Mutex
	for range runtime.NumCPU() {
		workers.Go(func() {
			for b := range batches {
				if err := sweepBatch(p, b.seed, b.tasks, func(one task, run record.Run) {
					guard.Lock()
					defer guard.Unlock()
					judge(one, run)
				}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for i := 0; i < len(tasks); i += perRig {
		batches <- batch{uint64(i/perRig) + 1, tasks[i:min(i+perRig, len(tasks))]}
	}
	close(batches)
	workers.Wait()
}

func sweepBatch(p *papers, seed uint64, tasks []task, judge func(task, record.Run)) error {
	l, err := newLine(context.Background(), p, seed)
	if err != nil {
		return fmt.Errorf("rig %d: %w", seed, err)
	}
	for _, one := range tasks {
		run, err := l.judge(one.serial, one.faults...)
		if err != nil {
			return fmt.Errorf("rig %d, unit %s: %w", seed, one.serial, err)
		}
		judge(one, run)
	}
	return l.rig.Close()
}

// TestSweepGoodUnits: of 10,000 good units within tolerance, on 100 rigs
// within theirs, none is rejected and none goes without a verdict.
func TestSweepGoodUnits(t *testing.T) {
	var tasks []task
	for i := range 10_000 {
		tasks = append(tasks, task{serial: fmt.Sprintf("G-%05d", i)})
	}
	passed := 0
	sweep(t, shippedPapers(t), tasks, func(one task, run record.Run) {
		if run.Verdict == record.Pass {
			passed++
			return
		}
		t.Errorf("good unit %s: %s: %s (%v)", one.serial, run.Verdict, run.Reason, failedNames(run))
	})
	require.Equal(t, 10_000, passed)
}

// TestSweepPairs: no two faults hide each other. Every pair that can stand in
// one unit is drawn several times, with severities out to the limit.
func TestSweepPairs(t *testing.T) {
	p := shippedPapers(t)
	all := twin.Faults()
	const draws = 4
	var tasks []task
	for i, a := range all {
		for _, b := range all[i+1:] {
			faults := []twin.Fault{{Name: a.Name}, {Name: b.Name}}
			if twin.Combine(faults...) != nil {
				continue
			}
			for d := range draws {
				tasks = append(tasks, task{fmt.Sprintf("%s+%s-%d", a.Name, b.Name, d), faults})
			}
		}
	}
	require.Greater(t, len(tasks), 400)
	sweep(t, p, tasks, func(one task, run record.Run) {
		if run.Verdict != record.Fail {
			t.Errorf("%s: %s: %s", one.serial, run.Verdict, run.Reason)
		}
	})
}

// TestSweepBarelyBad: at the mildest end of its severity, a fault is still
// found on every rig.
func TestSweepBarelyBad(t *testing.T) {
	p := shippedPapers(t)
	var tasks []task
	for _, d := range twin.Faults() {
		for i := range 25 {
			tasks = append(tasks, task{fmt.Sprintf("%s-%d", d.Name, i), []twin.Fault{twin.Fault{Name: d.Name}.Severe(float64(i%5) / 40)}})
		}
	}
	sweep(t, p, tasks, func(one task, run record.Run) {
		if run.Verdict != record.Fail {
			t.Errorf("%s: %s: %s", one.serial, run.Verdict, run.Reason)
		}
	})
}

// TestSweepOtherProducts: good units of the other shipped products pass, on
// the scenarios that are made for them.
func TestSweepOtherProducts(t *testing.T) {
	for _, c := range []struct{ product, scenario string }{
		{"desk-sensor", "charge-path"}, {"key-tag", "no-cell"}, {"key-tag", "terminations-only"}, {"hand-lamp", "terminations-only"},
	} {
		t.Run(c.product+" "+c.scenario, func(t *testing.T) {
			var errs strings.Builder
			p, err := load(defaultRig, c.product, c.scenario, &errs)
			require.NoError(t, err, errs.String())
			var tasks []task
			for i := range 300 {
				tasks = append(tasks, task{serial: fmt.Sprintf("O-%03d", i)})
			}
			sweep(t, p, tasks, func(one task, run record.Run) {
				if run.Verdict != record.Pass {
					t.Errorf("%s: %s: %s (%v)", one.serial, run.Verdict, run.Reason, failedNames(run))
				}
			})
		})
	}
}
