package scenarios_test

import "sinkproof/bench/wiring"

// sketch is the shipped rig in outline: its channels, conditions and axes by
// name, without a net behind them. Loading needs no more, and a fuzzer cannot
// wait for the safety proof.
func sketch() *wiring.Rig {
	axis := func(name string, values ...string) wiring.Axis {
		a := wiring.Axis{Name: name}
		for _, v := range values {
			a.Values = append(a.Values, wiring.AxisValue{Name: v, On: []string{name + " " + v}})
		}
		return a
	}
	cell := axis("cell", "off", "3.7 V", "4.1 V")
	orientation := axis("orientation", "normal", "flipped")
	advertisement := axis("advertisement", "default", "1.5 A", "3.0 A")
	needs := []string{"probe-vbus"}
	return &wiring.Rig{
		Name: "bench-one",
		Channels: []wiring.Channel{
			{Name: "vbus", Kind: wiring.VoltageChannel}, {Name: "vforce", Kind: wiring.VoltageChannel},
			{Name: "ibus", Kind: wiring.CurrentChannel}, {Name: "light", Kind: wiring.LightChannel},
			{Name: "temperature", Kind: wiring.TemperatureChannel},
			{Name: "rd1", Kind: wiring.TerminationChannel, Pulls: []wiring.Pull{{Part: "r", Relay: "pullup 10 kΩ"}}},
		},
		Conditions: []wiring.Condition{
			{Name: "isolated"},
			{Name: "probe-vbus", Axes: []wiring.Axis{axis("current", "0.1 mA", "5 mA", "off")}},
			{Name: "probe-cc1", Needs: needs, Axes: []wiring.Axis{axis("pullup", "10 kΩ", "36 kΩ"), cell}},
			{Name: "legacy-a", Needs: needs, Axes: []wiring.Axis{orientation, axis("data", "shorted", "open"), cell}},
			{Name: "c-supply", Needs: needs, Axes: []wiring.Axis{orientation, advertisement, cell}},
			{Name: "no-termination", Needs: needs, Axes: []wiring.Axis{advertisement, cell}},
		},
	}
}
