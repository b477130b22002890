package findings

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheMeasurementThatSeparates(t *testing.T) {
	for _, c := range []struct {
		name    string
		classes []string
		want    string
	}{
		{"terminations on one pin and on both", []string{"no-rd", "rd-missing-one-pin"}, "ohms at the CC pins"},
		{"one resistor for both, and none wrong", []string{Good, "shared-rd"}, "ohms between the CC pins"},
		{"what a scenario without power cannot see", []string{Good, "overcharge"}, "charge current and end voltage"},
		{"a dead charger and a joint", []string{"charger-dead", "contact-resistance"}, "drop along VBUS"},
		{"the most pairs of many", []string{Good, "no-rd", "rd-51k", "rd-10k"}, "ohms at the CC pins"},
		{"nothing in the list", []string{"dim", "dark"}, ""},
	} {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, separating(c.classes).Name) })
	}
}

// Of a large group one measurement tells most apart, and it says which it leaves;
// a finding is told from its own neighbours by what tells it from them.
func TestWhatAMeasurementLeaves(t *testing.T) {
	group := []string{Good, "data-pin-open", "overcharge", "charger-dead", "rd-51k", "rd-10k"}
	m := separating(group)
	require.Equal(t, "charge current and end voltage", separating([]string{Good, "data-pin-open", "overcharge", "charger-dead"}).Name)
	for _, same := range m.Leaves(group) {
		require.Greater(t, len(same), 1)
		for _, name := range same {
			require.Equal(t, m.Shows[same[0]], m.Shows[name])
		}
	}
	current := separating([]string{Good, "data-pin-open", "overcharge", "charger-dead"})
	require.Equal(t, [][]string{{Good, "data-pin-open", "rd-51k", "rd-10k"}}, current.Leaves(group))
	require.Empty(t, current.Leaves([]string{Good, "overcharge"}))

	require.Equal(t, "ohms at the CC pins", separatingFrom("rd-51k", []string{Good, "overcharge", "charger-dead", "rd-10k"}).Name)
	require.Equal(t, "continuity of the data pins", separatingFrom("data-pin-open", []string{Good, "overcharge"}).Name)
	require.Empty(t, separatingFrom("dim", []string{"dark"}).Name)
}

func TestEveryMeasurementSaysHowAndWhat(t *testing.T) {
	names := map[string]bool{}
	for _, m := range Measurements() {
		require.NotEmpty(t, m.How)
		require.NotEmpty(t, m.Shows, m.Name)
		require.False(t, names[m.Name], m.Name)
		names[m.Name] = true
		for fault := range m.Shows {
			require.NotEmpty(t, Rework(fault), "%s shows %s, which nobody can rework", m.Name, fault)
		}
	}
	require.Empty(t, Rework("nothing"))
}
