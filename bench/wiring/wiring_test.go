package wiring_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

func axesRig() *wiring.Rig {
	r := safeRig()
	r.Selects = []wiring.Select{{Name: "sel", Pin: wiring.Pin{Chip: "out", Bit: 15}}}
	r.Conditions = append(r.Conditions, wiring.Condition{
		Name: "varied", On: []string{"k_bleed", "s_feed"}, Feed: []string{"s_feed"}, Needs: []string{"with-a"},
		Axes: []wiring.Axis{
			{Name: "side", Values: []wiring.AxisValue{{Name: "left"}, {Name: "right", On: []string{"k_a1", "k_bleed"}}}},
			{Name: "level", Values: []wiring.AxisValue{{Name: "low"}, {Name: "mid", On: []string{"sel"}}, {Name: "top", On: []string{"sel", "k_p"}}}},
		},
	})
	return r
}

func TestExpand(t *testing.T) {
	r := axesRig()
	cases := []struct {
		name    string
		axes    []wiring.AxisChoice
		setting string
		on      []string
	}{
		{"defaults", nil, "varied[side = left, level = low]", []string{"k_bleed"}},
		{"one axis given", []wiring.AxisChoice{{"level", "mid"}}, "varied[side = left, level = mid]", []string{"k_bleed", "sel"}},
		{"axes in another order", []wiring.AxisChoice{{"level", "top"}, {"side", "right"}}, "varied[side = right, level = top]",
			[]string{"k_a1", "k_bleed", "k_p", "sel"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			st, err := r.Expand(wiring.Setting{Condition: "varied", Axes: c.axes})
			require.NoError(t, err)
			require.Equal(t, c.setting, st.Setting.String())
			require.Equal(t, c.on, st.On)
			require.Equal(t, []string{"s_feed"}, st.Feed, "a feed is not among the others")
			require.True(t, st.Holds("s_feed"))
			require.False(t, st.Holds("k_b1"))
		})
	}
}

func TestExpandRefuses(t *testing.T) {
	r := axesRig()
	for name, c := range map[string]struct {
		setting wiring.Setting
		want    string
	}{
		"condition": {wiring.Setting{Condition: "nowhere"}, `expand setting nowhere: condition "nowhere": not on this rig`},
		"axis": {wiring.Setting{Condition: "varied", Axes: []wiring.AxisChoice{{"colour", "red"}}},
			`expand setting varied[colour = red]: axis "colour" of condition "varied": not on this rig`},
		"value": {wiring.Setting{Condition: "varied", Axes: []wiring.AxisChoice{{"side", "top"}}},
			`expand setting varied[side = top]: value "top" of axis "side": not on this rig`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := r.Expand(c.setting)
			require.ErrorIs(t, err, wiring.ErrUnknown)
			require.EqualError(t, err, c.want)
		})
	}
	_, err := r.Expand(wiring.Setting{Condition: "varied", Axes: []wiring.AxisChoice{{"side", "left"}, {"side", "right"}}})
	require.EqualError(t, err, `expand setting varied[side = left, side = right]: axis "side" is chosen twice`)
	r.Conditions[4].Axes[0].Values = nil
	_, err = r.Expand(wiring.Setting{Condition: "varied"})
	require.ErrorIs(t, err, wiring.ErrUnknown)
}

func TestSettings(t *testing.T) {
	r := axesRig()
	settings := r.Settings("varied")
	require.Len(t, settings, 6)
	require.Equal(t, "varied[side = left, level = low]", settings[0].String(), "the defaults come first")
	require.Equal(t, "varied[side = left, level = mid]", settings[1].String(), "the last axis changes fastest")
	require.Equal(t, "varied[side = right, level = top]", settings[5].String())
	require.Empty(t, r.Settings("nowhere"))
	require.Equal(t, []wiring.Setting{{Condition: wiring.Isolated}}, r.Settings(wiring.Isolated))
	require.Len(t, r.States(), 4+6)
}

func TestNeeded(t *testing.T) {
	r := axesRig()
	require.Equal(t, []string{"probe-vbus", "with-a"}, r.Needed("varied"), "through others, too")
	require.Empty(t, r.Needed(wiring.Isolated))
	require.Empty(t, r.Needed("nowhere"))
}

func TestLookup(t *testing.T) {
	r := axesRig()
	checks := map[string]func() bool{
		"net":       func() bool { x, ok := r.Net("tap"); return ok && x.Rating == quantity.Volts(3) },
		"bus":       func() bool { x, ok := r.Bus("i2c"); return ok && x.Device == "1" },
		"line":      func() bool { x, ok := r.Line("lid"); return ok && x.Use == wiring.Lid },
		"line use":  func() bool { x, ok := r.LineFor(wiring.Heartbeat); return ok && x.Name == "heartbeat" },
		"chip":      func() bool { x, ok := r.Chip("out"); return ok && x.Address == 0x20 },
		"part":      func() bool { x, ok := r.Part("r_bleed"); return ok && x.A == "bleed" },
		"relay":     func() bool { x, ok := r.Relay("k_p"); return ok && x.Coil.String() == "out.A6" },
		"select":    func() bool { x, ok := r.Select("sel"); return ok && x.Pin.String() == "out.B7" },
		"supply":    func() bool { x, ok := r.Supply("two"); return ok && x.Vbus == "b.out" },
		"kind":      func() bool { x, ok := r.SupplyOf(wiring.Probe); return ok && x.Name == "probe" },
		"channel":   func() bool { x, ok := r.Channel("vbus"); return ok && x.Net == "sense" },
		"condition": func() bool { x, ok := r.Condition("with-b"); return ok && len(x.On) == 3 },
		"pin":       func() bool { x, ok := r.Nest.Pin(wiring.PinCC1); return ok && x.Net == "cc1" },
		"pin's net": func() bool {
			return r.Nest.PinNet(wiring.PinVbusSense) == "sense" && r.Nest.PinNet(wiring.PinCell) == ""
		},
		"axis": func() bool {
			x, _ := r.Condition("varied")
			a, ok := x.Axis("level")
			v, has := a.Value("mid")
			_, none := x.Axis("colour")
			return ok && has && v.On[0] == "sel" && !none
		},
	}
	for name, found := range checks {
		require.True(t, found(), name)
	}
	_, ok := r.Net("nowhere")
	require.False(t, ok)
}

func TestLevelFor(t *testing.T) {
	s := wiring.Supply{Levels: []wiring.Level{
		{Name: "low"}, {Name: "mid", Selects: []string{"s0"}}, {Name: "top", Selects: []string{"s1", "s0"}},
	}}
	require.Equal(t, []string{"s0", "s1"}, s.Selects())
	for _, c := range []struct {
		on   []string
		want string
	}{
		{nil, "low"}, {[]string{"k_x"}, "low"}, {[]string{"k_x", "s0"}, "mid"}, {[]string{"s0", "s1"}, "top"}, {[]string{"s1"}, ""},
	} {
		l, ok := s.LevelFor(c.on)
		require.Equal(t, c.want != "", ok, "%v", c.on)
		if ok {
			require.Equal(t, c.want, l.Name)
		}
	}
}

func TestTolerance(t *testing.T) {
	relative := wiring.Toleranced{Nominal: quantity.Ohms(5100), Tolerance: quantity.Pure(0.05)}
	absolute := wiring.Toleranced{Nominal: quantity.Ohms(5100), Tolerance: quantity.Ohms(255)}
	ratio := wiring.Toleranced{Nominal: quantity.Pure(0.1), Tolerance: quantity.Pure(0.25)}
	for _, x := range []wiring.Toleranced{relative, absolute} {
		require.InDelta(t, 255, x.HalfWidth(), 1e-9)
		require.InDelta(t, 0.05, x.Relative(), 1e-12)
		require.InDelta(t, 4845, x.Low().SI, 1e-9)
		require.InDelta(t, 5355, x.High().SI, 1e-9)
		require.Equal(t, quantity.Resistance, x.High().Dim)
	}
	require.InDelta(t, 0.025, ratio.HalfWidth(), 1e-12, "of a pure number the tolerance is relative")
	require.Zero(t, wiring.Toleranced{Tolerance: quantity.Ohms(1)}.Relative())
}

func TestToleranceKeepsItsNominalInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := wiring.Toleranced{
			Nominal:   quantity.Volts(rapid.Float64Range(-100, 100).Draw(t, "nominal")),
			Tolerance: quantity.Pure(rapid.Float64Range(0, 2).Draw(t, "tolerance")),
		}
		require.LessOrEqual(t, x.Low().SI, x.Nominal.SI)
		require.GreaterOrEqual(t, x.High().SI, x.Nominal.SI)
	})
}

func TestPlace(t *testing.T) {
	p := wiring.At("condition", "legacy-a", "on", 2)
	require.Equal(t, wiring.Place("condition/legacy-a/on/2"), p)
	require.Equal(t, wiring.Place("condition/legacy-a/on"), p.Parent())
	require.Equal(t, wiring.Place(""), wiring.At("rig").Parent())
	m := wiring.Mistake{Place: p, Summary: "unknown relay", Detail: `The rig has no relay "k".`}
	require.EqualError(t, m, `condition/legacy-a/on/2: unknown relay: The rig has no relay "k".`)
}
