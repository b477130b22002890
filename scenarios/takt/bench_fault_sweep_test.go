//go:build !race && study

package takt_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
	"sinkproof/scenarios/takt"
)

// benchFaults are a fault of each contact, and hum on each input.
func benchFaults(w *wiring.Rig) []twin.RigFault {
	var out []twin.RigFault
	for _, k := range w.Relays {
		for j, c := range k.Contacts {
			if c.NO != "" {
				out = append(out, twin.RigFault{Kind: twin.ContactWelded, Part: k.Name, Index: j}, twin.RigFault{Kind: twin.ContactStuckOpen, Part: k.Name, Index: j})
			}
			if c.Form == wiring.FormC && c.NC != "" {
				out = append(out, twin.RigFault{Kind: twin.ContactRestOpen, Part: k.Name, Index: j}, twin.RigFault{Kind: twin.ContactRestWeld, Part: k.Name, Index: j})
			}
		}
	}
	for _, c := range w.Chips {
		for i := range c.Inputs {
			out = append(out, twin.RigFault{Kind: twin.MainsHum, Part: c.Name, Index: i, Value: 0.02})
		}
	}
	return out
}

// TestSweepABenchFaultIsNoWorseInThePlannedOrder: what fails no good unit and
// lets no faulty one pass in the order of the file does not in the planned one.
func TestSweepABenchFaultIsNoWorseInThePlannedOrder(t *testing.T) {
	prod, sc := loadShipped(t, "hand-lamp", "charge-path")
	shared := takt.Shared(sc)
	plan, err := takt.NewRig(benchOne(t), prod).Best(shared, study(t, prod, shared, 4, 1, 10).Samples(0.01), takt.Prices{Operation: 1e-3})
	require.NoError(t, err)
	planned, err := shared.InOrder(plan.Order)
	require.NoError(t, err)
	one, two := newStation(t, prod, sc, 3), newStation(t, prod, planned, 3)
	judged := func(s *station, f twin.RigFault, faults ...twin.Fault) record.Run {
		require.NoError(t, s.twin.Break(f))
		defer s.twin.Mend()
		run, _ := s.run("BENCH", faults...)
		return run
	}
	for _, f := range benchFaults(benchOne(t)) {
		t.Run(fmt.Sprintf("%s %s %d", f.Kind, f.Part, f.Index), func(t *testing.T) {
			a, b := judged(one, f), judged(two, f)
			if a.Verdict != record.Fail {
				require.NotEqual(t, record.Fail, b.Verdict, "a good unit: %s", b.Reason)
			}
			bad := twin.Fault{Name: "no-rd"}.Severe(0.5)
			a, b = judged(one, f, bad), judged(two, f, bad)
			if a.Verdict != record.Pass {
				require.NotEqual(t, record.Pass, b.Verdict, "a unit without terminations: %s", a.Reason)
			}
		})
	}
}
