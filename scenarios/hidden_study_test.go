//go:build !race && study

package scenarios_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
)

// hides names the one pair in which a contact of the rig makes up for what the
// unit lacks: where the flip of the data pair is welded, one of two data pins
// that touch the same line is never asked for. Only the check receptacle shows
// that contact.
func hides(f twin.RigFault, fault string) bool {
	return f.Kind == twin.ContactWelded && f.Part == "k_flip2" && fault == "data-pin-open"
}

// A faulty unit never passes because a contact of the rig hides its fault.
func TestSweepNoContactHidesAFault(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	runs := 0
	for _, f := range contactFaults(s.rig) {
		for _, d := range twin.Faults() {
			require.NoError(t, s.twin.Break(f))
			run := s.run("BAD", twin.Fault{Name: d.Name})
			s.twin.Mend()
			runs++
			if !hides(f, d.Name) {
				require.NotEqual(t, record.Pass, run.Verdict, "%s %s %d hides %s", f.Kind, f.Part, f.Index, d.Name)
			}
		}
	}
	t.Logf("%d pairs of a contact and a unit", runs)
}
