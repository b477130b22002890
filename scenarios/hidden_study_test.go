//go:build !race && study

package scenarios_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// everywhere lists a fault of a unit on each of the pins where it can be.
func everywhere(name string) []twin.Fault {
	f := twin.Fault{Name: name}
	var pins []string
	switch name {
	case "data-pin-open":
		pins = dataPins()
	case "rd-missing-one-pin", "cc-vbus-short", "cc-gnd-short":
		pins = []string{"cc1", "cc2"}
	default:
		return []twin.Fault{f}
	}
	var out []twin.Fault
	for _, pin := range pins {
		out = append(out, f.On(pin))
	}
	return out
}

// A faulty unit never passes because a contact of the rig hides its fault,
// whichever pin has it.
func TestSweepNoContactHidesAFault(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	runs := 0
	for _, d := range twin.Faults() {
		for _, fault := range everywhere(d.Name) {
			for _, f := range contactFaults(s.rig) {
				require.NoError(t, s.twin.Break(f))
				run := s.run("BAD", fault)
				s.twin.Mend()
				runs++
				require.NotEqual(t, record.Pass, run.Verdict, "%s %s %d hides %+v", f.Kind, f.Part, f.Index, fault)
			}
		}
	}
	t.Logf("%d pairs of a contact and a unit", runs)
}

// otherFaults lists the single faults of a rig beside those of its contacts and of
// the pins of the plug.
func otherFaults(w *wiring.Rig) []twin.RigFault {
	var out []twin.RigFault
	for _, k := range w.Relays {
		out = append(out, twin.RigFault{Kind: twin.CoilOpen, Part: k.Name}, twin.RigFault{Kind: twin.CoilDriverOn, Part: k.Name})
	}
	for _, s := range w.Selects {
		out = append(out, twin.RigFault{Kind: twin.SelectStuck, Part: s.Name}, twin.RigFault{Kind: twin.SelectStuck, Part: s.Name, Value: 1})
	}
	for _, c := range w.Channels {
		for _, off := range []float64{0.02, -0.02, 0.05, -0.05} {
			switch c.Kind {
			case wiring.VoltageChannel, wiring.LightChannel:
				out = append(out, twin.RigFault{Kind: twin.ChannelGain, Part: c.Chip, Index: c.Input, Value: off})
			case wiring.CurrentChannel:
				for _, g := range c.Ranges {
					out = append(out, twin.RigFault{Kind: twin.ChannelGain, Part: g.Chip, Value: off})
				}
			}
		}
	}
	for _, s := range w.Supplies {
		out = append(out, twin.RigFault{Kind: twin.SupplyDead, Part: s.Name}, twin.RigFault{Kind: twin.SupplyLate, Part: s.Name, For: 700 * time.Millisecond},
			twin.RigFault{Kind: twin.SupplyOff, Part: s.Name, Value: 0.06}, twin.RigFault{Kind: twin.SupplyOff, Part: s.Name, Value: -0.06})
		if s.Kind == wiring.CSupply {
			out = append(out, twin.RigFault{Kind: twin.SupplySlowOff, Part: s.Name, For: 700 * time.Millisecond})
		}
	}
	return out
}

// wornPins lists the pins of the plug with more and more resistance, from what no unit
// notices to what is as good as open, at these steps of each decade.
func wornPins(w *wiring.Rig, steps ...float64) []twin.RigFault {
	var out []twin.RigFault
	for _, f := range openPins(w) {
		for decade := 0.1; decade < 1e6; decade *= 10 {
			for _, step := range steps {
				out = append(out, twin.RigFault{Kind: twin.PinWorn, Part: f.Part, Value: step * decade})
			}
		}
	}
	return out
}

// No pin of the plug, open or worn as far as one likes, fails a good unit of any
// shipped product in any shipped scenario.
func TestSweepNoPinFailsAUnit(t *testing.T) {
	for _, c := range shippedPairs() {
		s := newStation(t, c.product, c.scenario)
		asked := 0
		steps := []float64{5}
		if c == (pair{"hand-lamp", "charge-path"}) { // which asks most
			steps = []float64{1, 2, 5}
		}
		list := append(openPins(s.rig), wornPins(s.rig, steps...)...)
		for _, f := range list {
			s.prove()
			require.NoError(t, s.twin.Break(f))
			run := s.run("GOOD")
			s.twin.Mend()
			if slices.Contains(s.moved, "receptacle") {
				asked++
			}
			if run.Verdict == record.Fail {
				t.Errorf("%s %s: %s %s %g Ω: %s", c.product, c.scenario, f.Kind, f.Part, f.Value, run.Reason)
			}
		}
		t.Logf("%s %s: %d pins, asked for the receptacle with %d", c.product, c.scenario, len(list), asked)
	}
}

// trust opens the rig anew and fails units without a proof of it.
func (s *station) trust() {
	s.tb.Helper()
	require.NoError(s.tb, s.bench.Close())
	s.open()
	s.prover, s.keeper = nil, nil
}

// A faulty unit never passes because a pin of the plug hides its fault, and behind
// sound pins it is failed as before and the record says that they were proved.
func TestSweepNoPinHidesAFault(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	runs := 0
	for _, d := range twin.Faults() {
		for _, fault := range everywhere(d.Name) {
			s.prove()
			run := s.run("BAD", fault)
			require.Equal(t, record.Fail, run.Verdict, "%+v: %s", fault, run.Reason)
			require.Contains(t, texts(run), "the check receptacle proved the pins of the test plug: nothing was found", "%+v", fault)
			s.trust()
			for _, f := range append(openPins(s.rig), wornPins(s.rig, 1, 3)...) {
				require.NoError(t, s.twin.Break(f))
				run := s.run("BAD", fault)
				s.twin.Mend()
				runs++
				require.NotEqual(t, record.Pass, run.Verdict, "%s %s %g Ω hides %+v", f.Kind, f.Part, f.Value, fault)
			}
		}
	}
	t.Logf("%d pairs of a pin and a unit", runs)
}

// A coil, a select, a channel or a supply that fails in mid-shift costs a good unit
// its verdict at most.
func TestSweepNoOtherFaultOfTheRigFailsAUnit(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	list := otherFaults(s.rig)
	for _, f := range list {
		s.prove()
		require.NoError(t, s.twin.Break(f))
		run := s.run("GOOD")
		s.twin.Mend()
		require.NotEqual(t, record.Fail, run.Verdict, "%+v: %s", f, run.Reason)
	}
	t.Logf("%d faults", len(list))
}
