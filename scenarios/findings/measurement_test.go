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
