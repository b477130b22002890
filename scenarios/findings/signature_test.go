package findings

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestASignatureHoldsWhatIsNotSaidTwice(t *testing.T) {
	bound := record.Value{Value: 1e6, Unit: "Ω", Bound: record.AtLeast}
	run := record.Run{
		Readings: []record.Reading{
			{Name: "r-1", Channel: "rd", Value: bound},
			{Name: "v[a]", Channel: "vbus", Condition: "supply[cell = 3.7 V]", Value: record.Value{Value: 5, Unit: "V", U: 0.1}},
			{Name: "low", Channel: "cc", Value: record.Value{Value: 0.1, Unit: "V", Bound: record.AtMost}},
		},
		Checks: []record.Check{
			{Name: "rd", Title: "Termination", Answer: record.Failed, Readings: []string{"r-1"}, Value: &bound},
			{Name: "drop[a]", Title: "Drop (a)", Answer: record.Passed, Readings: []string{"v[a]", "low"}, Value: &record.Value{Value: 4.9, Unit: "V"}},
			{Name: "hot", Title: "It stays cool", Answer: record.Failed},
			{Name: "held", Title: "Nothing is held up", Answer: record.Passed},
			{Name: "open", Title: "Not asked", Answer: record.Unanswered},
		},
	}
	s := SignatureOf(run)
	require.Equal(t, []string{"r-1", "v[a]", "low", "check drop[a]", "check hot", "check held"}, s.names)
	require.Equal(t, observation{kind: atLeast, value: 1e6}, s.seen["r-1"])
	require.Equal(t, observation{kind: estimate, value: 5, u: 0.1}, s.seen["v[a]"])
	require.Equal(t, atMost, s.seen["low"].kind)
	require.Equal(t, failed, s.seen["check hot"].kind)
	require.Equal(t, passed, s.seen["check held"].kind)
	require.Equal(t, absent, s.seen["check open"].kind)
	require.Equal(t, label{title: "Termination", unit: "Ω"}, s.titles["r-1"], "a check gives its only reading its title")
	require.Equal(t, label{"channel vbus in supply (a)", "V", "vbus"}, s.titles["v[a]"])
	require.Equal(t, label{title: "Drop (a)", unit: "V"}, s.titles["check drop[a]"], "a title that has its round gets no second one")
	require.Equal(t, map[string]bool{"r-1": true, "v[a]": true, "low": true}, s.asked)
}
