//go:build !race && study

package scenarios_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
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
