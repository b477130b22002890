//go:build !race

package scenarios_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// contactFaults lists each single fault of a contact that the rig can have.
func contactFaults(w *wiring.Rig) []twin.RigFault {
	var out []twin.RigFault
	for i := range w.Relays {
		k := &w.Relays[i]
		for j, c := range k.Contacts {
			kinds := []twin.RigFaultKind{twin.ContactWelded, twin.ContactStuckOpen}
			if c.NO == "" {
				kinds = nil
			}
			if c.Form == wiring.FormC && c.NC != "" {
				kinds = append(kinds, twin.ContactRestOpen, twin.ContactRestWeld)
			}
			for _, kind := range kinds {
				out = append(out, twin.RigFault{Kind: kind, Part: k.Name, Index: j})
			}
		}
	}
	return out
}

// A contact that fails costs a good unit its verdict at most: no unit is failed
// for it.
func TestSweepFaultyContactFailsNoUnit(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	for _, f := range contactFaults(s.rig) {
		t.Run(fmt.Sprintf("%s %s %d", f.Kind, f.Part, f.Index), func(t *testing.T) {
			s.prove()
			require.NoError(t, s.twin.Break(f))
			run := s.run("GOOD")
			s.twin.Mend()
			require.NotEqual(t, record.Fail, run.Verdict, "%s: %v", run.Reason, failed(run))
		})
	}
}

// openPins lists each pin of the plug as one that does not touch.
func openPins(w *wiring.Rig) []twin.RigFault {
	var out []twin.RigFault
	for _, p := range w.Nest.Pins {
		if p.Pin != wiring.PinLight { // a sensor, which no unit touches
			out = append(out, twin.RigFault{Kind: twin.PinOpen, Part: p.Pin})
		}
	}
	return out
}

// A pin of the plug that does not touch costs a good unit its verdict at most, and is
// named wherever the unit would have been failed.
func TestSweepOpenPinFailsNoUnit(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	named := 0
	for _, f := range openPins(s.rig) {
		s.prove()
		require.NoError(t, s.twin.Break(f))
		run := s.run("GOOD")
		s.twin.Mend()
		require.Equal(t, record.None, run.Verdict, "%s: %s", f.Part, run.Reason)
		if slices.Contains(s.moved, "receptacle") {
			named++
			require.Contains(t, run.Reason, "pin "+f.Part+" does not touch")
		}
	}
	// Without ground or the sense contact nothing can be shown to be seated.
	require.Equal(t, len(openPins(s.rig))-2, named)
}

// The contacts of the data pair stand in for a data pin that is not soldered
// where they do not let go: no such unit passes, whichever pin it is.
func TestSweepNoContactOfTheDataPairHidesAnOpenPin(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	for _, f := range contactFaults(s.rig) {
		if !strings.HasPrefix(f.Part, "k_d") && f.Part != "k_flip2" {
			continue
		}
		for _, pin := range dataPins() {
			require.NoError(t, s.twin.Break(f))
			run := s.run("BAD", twin.Fault{Name: "data-pin-open"}.On(pin))
			s.twin.Mend()
			require.NotEqual(t, record.Pass, run.Verdict, "%s %s %d hides that %s is open", f.Kind, f.Part, f.Index, pin)
		}
	}
}

func dataPins() []string { return []string{"dp1", "dm1", "dp2", "dm2"} }

// A unit that is faulty is failed as before: the bench that proves itself has
// nothing to find.
func TestSweepFaultyUnitIsFailedByASoundBench(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	for _, name := range []string{"no-rd", "current-half", "vbus-gnd-short", "back-feed", "charger-dead"} {
		s.prove()
		run := s.run("BAD", twin.Fault{Name: name}.Severe(0.5))
		require.Equal(t, record.Fail, run.Verdict, "%s: %s", name, run.Reason)
		require.Nil(t, run.Fault, name)
		require.True(t, slices.ContainsFunc(run.Relays, func(m record.RelayMove) bool { return m.Condition == "self-test" && len(m.On) > 0 }),
			"%s: contacts that moved for the proof wear as well", name)
		require.Contains(t, texts(run), "the check receptacle proved the pins of the test plug: nothing was found", name)
	}
}
