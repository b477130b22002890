package scenarios_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// attachWaves lists the waveforms in which a C supply applies VBUS.
func attachWaves(run record.Run) []record.Waveform {
	var out []record.Waveform
	for _, w := range run.Waveforms {
		name, _, _ := strings.Cut(w.Name, "[")
		if slices.Contains([]string{"stand-in-on", "c-on", "marked-on"}, name) {
			out = append(out, w)
		}
	}
	return out
}

// What is judged can be seen: VBUS is cold where the waveform begins, and the
// levels of the standard are drawn.
func TestAttachIsShownFromTheColdState(t *testing.T) {
	run := newStation(t, "hand-lamp", "charge-path").run("GOOD")
	waves := attachWaves(run)
	require.Len(t, waves, 9, "the stand-in, six rounds, two of a marked cable")
	cold, on := typec.VSafe0V().Max.SI, typec.VSafe5V().Min.SI
	for _, w := range waves {
		require.Less(t, w.Samples[0], cold, w.Name)
		require.Greater(t, w.Samples[len(w.Samples)-1], 0.9*on, w.Name)
		require.Equal(t, record.Threshold{Label: "vSafe0V", Value: cold}, w.Thresholds[0], w.Name)
		require.Equal(t, record.Threshold{Label: "vSafe5V", Value: on}, w.Thresholds[1], w.Name)
		require.Less(t, w.Thresholds[2].Value, on, w.Name)
		require.Len(t, w.Marks, 1, w.Name)
		require.Less(t, w.Marks[0].AtUS-w.StartUS, int64(485e3), w.Name)
	}
}

// Each C round comes after a proof of the cold supply: with the advertisement
// of the round, its cell, and the unit's CC pins cut off.
func TestEveryAttachComesAfterAColdSupply(t *testing.T) {
	for _, c := range []struct{ product, scenario string }{
		{"hand-lamp", "charge-path"}, {"desk-sensor", "charge-path"}, {"key-tag", "no-cell"},
	} {
		s := newStation(t, c.product, c.scenario)
		before, rounds := wiring.Setting{}, 0
		for _, st := range s.scenario.Stages {
			now := st.Setting
			if slices.Contains([]string{"c-supply", "c-supply-marked", "stand-in"}, now.Condition) {
				rounds++
				require.Equal(t, "no-termination", before.Condition, st.Name)
				require.Equal(t, choice(now, "advertisement"), choice(before, "advertisement"), st.Name)
				require.Equal(t, choice(now, "cell"), choice(before, "cell"), st.Name)
			}
			before = now
		}
		require.GreaterOrEqual(t, rounds, 7, c.scenario)
	}
}

// choice is what a setting says of an axis, empty for the rig's default.
func choice(s wiring.Setting, axis string) string {
	for _, a := range s.Axes {
		if a.Axis == axis {
			return a.Value
		}
	}
	return ""
}

// The levels of the attach allow for the drop of the path: 0.5 Ω up to the plug
// and 0.55 Ω up to the unit's sense contact. The parts of the wiring file, each
// at the end of its tolerance, must not come to more, with a worn contact in
// the receptacle, and not to so much less that a weak supply would pass.
func TestDropThatTheAttachAllowsIsThatOfThePath(t *testing.T) {
	rig := benchOne(t)
	state, err := rig.Expand(wiring.Setting{Condition: "c-supply"})
	require.NoError(t, err)
	path := 0.0
	for _, name := range []string{"k_csup1", "k_csup2", "s_feed", "k_range", "k_plug"} {
		require.True(t, state.Holds(name), name)
		k, ok := rig.Relay(name)
		require.True(t, ok, name)
		path += k.Contacts[0].Resistance.High().SI
	}
	shunt, ok := rig.Part("r_shunt_high")
	require.True(t, ok)
	path += shunt.Value.High().SI
	require.Greater(t, path, 0.45)
	require.LessOrEqual(t, path, 0.5)
	for _, p := range rig.Nest.Pins {
		if p.Pin == "vbus-force" {
			path += p.Resistance.High().SI
		}
	}
	path += typec.ContactResistance(true).Max.SI
	require.Greater(t, path, 0.5)
	require.LessOrEqual(t, path, 0.55)
}
