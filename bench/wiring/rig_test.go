package wiring_test

import (
	"fmt"

	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// exact returns a value without tolerance.
func exact(q quantity.Quantity) wiring.Toleranced { return wiring.Toleranced{Nominal: q} }

// within returns a value with a relative tolerance.
func within(q quantity.Quantity, relative float64) wiring.Toleranced {
	return wiring.Toleranced{Nominal: q, Tolerance: quantity.Pure(relative)}
}

// safeRig is a small rig without mistakes: two supplies with two relays each,
// a feed, a bleeder, a probe, a nest, a converter with a divider on VBUS.
func safeRig() *wiring.Rig {
	r := &wiring.Rig{
		Name: "small", Title: "A small rig", Version: "1",
		Isolation: quantity.Ohms(1000), Mains: quantity.Hertz(50),
		Buses: []wiring.Bus{{Name: "i2c", Device: "1", Frequency: quantity.Hertz(400e3)}},
		Chips: []wiring.Chip{
			{Name: "adc", Kind: wiring.ADC, Bus: "i2c", Address: 0x48, Inputs: []string{"tap", "cc1"}},
			{Name: "out", Kind: wiring.Expander, Bus: "i2c", Address: 0x20},
			{Name: "meter", Kind: wiring.PowerMon, Bus: "i2c", Address: 0x40, Plus: "hi", Minus: "force", Sense: "hi", Shunt: "r_shunt"},
		},
		Parts: []wiring.Part{
			{Name: "r_shunt", Kind: wiring.Resistor, A: "hi", B: "force", Value: within(quantity.Ohms(0.1), 0.001)},
			{Name: "r_top", Kind: wiring.Resistor, A: "sense", B: "tap", Value: within(quantity.Ohms(510e3), 0.001)},
			{Name: "r_bot", Kind: wiring.Resistor, A: "tap", B: wiring.Ground, Value: within(quantity.Ohms(510e3), 0.001)},
			{Name: "r_bleed", Kind: wiring.Resistor, A: "bleed", B: wiring.Ground, Value: within(quantity.Ohms(470), 0.01)},
		},
		Supplies: []wiring.Supply{
			{Name: "one", Kind: wiring.LegacyA, Vbus: "a.out", Volts: within(quantity.Volts(5.1), 0.03), Output: quantity.Ohms(0.1), Limit: quantity.Amperes(2)},
			{Name: "two", Kind: wiring.LegacyA, Vbus: "b.out", Volts: within(quantity.Volts(5), 0.05), Output: quantity.Ohms(0.1), Limit: quantity.Amperes(2)},
			{Name: "probe", Kind: wiring.Probe, Vbus: "p.out", Compliance: quantity.Volts(2.8),
				Levels: []wiring.Level{{Name: "0.1 mA", Value: quantity.Amperes(1e-4)}}},
		},
		Nest: wiring.Nest{Name: "nest", Matings: 1e4, Empty: quantity.Farads(50e-9), Pins: []wiring.PlugPin{
			{Pin: wiring.PinVbusForce, Net: "force", Resistance: exact(quantity.Ohms(0.02))},
			{Pin: wiring.PinVbusSense, Net: "sense", Resistance: exact(quantity.Ohms(0.02))},
			{Pin: wiring.PinGround, Net: wiring.Ground, Resistance: exact(quantity.Ohms(0.02))},
			{Pin: wiring.PinCC1, Net: "cc1", Resistance: exact(quantity.Ohms(0.02))},
			{Pin: wiring.PinCC2, Net: "cc2", Resistance: exact(quantity.Ohms(0.02))},
		}},
		Channels: []wiring.Channel{
			{Name: "vbus", Kind: wiring.VoltageChannel, Chip: "adc", Input: 0, Net: "sense", Upper: "r_top", Lower: "r_bot", Highest: quantity.Volts(6)},
			{Name: "ibus", Kind: wiring.CurrentChannel, Highest: quantity.Amperes(0.8), Ranges: []wiring.Range{{Name: "all", Chip: "meter"}}},
		},
		Guard: wiring.Guard{BeatGap: quantity.Seconds(0.03), ArmPulse: quantity.Seconds(0.005),
			OverVoltage: quantity.Volts(5.5), Safe0V: quantity.Volts(0.8)},
	}
	for _, n := range []string{"a.out", "a.mid", "b.out", "b.mid", "p.out", "p.mid", "feed", "hi", "force", "sense", "bleed", "cc1", "cc2"} {
		r.Nets = append(r.Nets, wiring.Net{Name: n, Rating: quantity.Volts(5.5)})
	}
	r.Nets = append(r.Nets, wiring.Net{Name: "tap", Rating: quantity.Volts(3)})
	safeSwitches(r)
	return r
}

func safeSwitches(r *wiring.Rig) {
	for i, use := range []wiring.LineUse{wiring.EmergencyStop, wiring.Lid, wiring.Heartbeat, wiring.Arm, wiring.CoilSupply} {
		r.Lines = append(r.Lines, wiring.Line{Name: string(use), Device: fmt.Sprint(i), Use: use})
	}
	add := func(name string, solid bool, common, no, nc string) {
		k := relay(name, len(r.Relays), contactOf(common, no, nc))
		k.SolidState = solid
		r.Relays = append(r.Relays, k)
	}
	add("k_a1", false, "a.out", "a.mid", "")
	add("k_a2", false, "a.mid", "feed", "")
	add("k_b1", false, "b.out", "b.mid", "")
	add("k_b2", false, "b.mid", "feed", "")
	add("s_feed", true, "feed", "hi", "")
	add("k_bleed", true, "sense", "", "bleed")
	add("k_p", false, "p.out", "p.mid", "")
	add("k_q", false, "p.mid", "sense", "")
	needs := []string{wiring.ProbeVbus}
	r.Conditions = []wiring.Condition{
		{Name: wiring.Isolated},
		{Name: wiring.ProbeVbus, On: []string{"k_bleed", "k_p", "k_q"}},
		{Name: "with-a", On: []string{"k_a1", "k_a2", "k_bleed"}, Feed: []string{"s_feed"}, Needs: needs},
		{Name: "with-b", On: []string{"k_b1", "k_b2", "k_bleed"}, Feed: []string{"s_feed"}, Needs: needs},
	}
}

func relay(name string, bit int, contacts ...wiring.Contact) wiring.Relay {
	return wiring.Relay{
		Name: name, Coil: wiring.Pin{Chip: "out", Bit: bit},
		Operate: quantity.Seconds(0.004), Release: quantity.Seconds(0.004), Bounce: quantity.Seconds(0.002),
		Contacts: contacts,
	}
}

func contactOf(common, no, nc string) wiring.Contact {
	c := wiring.Contact{Name: "1", Form: wiring.FormA, Common: common, NO: no, NC: nc, Resistance: exact(quantity.Ohms(0.05))}
	if nc != "" {
		c.Form = wiring.FormC
	}
	return c
}

// randomRig draws a rig of a few nets, relays and supplies, safe or not. Part
// values straddle the isolation resistance.
func randomRig(t *rapid.T) *wiring.Rig {
	nets := []string{"n1", "n2", "n3", "n4", "n5", "n6"}
	ends := append([]string{wiring.Ground}, nets...)
	r := &wiring.Rig{Isolation: quantity.Ohms(100), Mains: quantity.Hertz(50)}
	for _, n := range nets {
		r.Nets = append(r.Nets, wiring.Net{Name: n, Rating: quantity.Volts(rapid.Float64Range(1, 6).Draw(t, "rating"))})
	}
	net := rapid.SampledFrom(nets)
	end := rapid.SampledFrom(ends)
	for i := range rapid.IntRange(0, 3).Draw(t, "parts") {
		ohms := rapid.SampledFrom([]float64{30, 60, 90, 1e3, 2e4}).Draw(t, "ohms")
		a, b := net.Draw(t, "a"), end.Draw(t, "b")
		if a != b {
			r.Parts = append(r.Parts, wiring.Part{Name: fmt.Sprint("r", i), Kind: wiring.Resistor, A: a, B: b, Value: within(quantity.Ohms(ohms), 0.05)})
		}
	}
	var coils []string
	for i := range rapid.IntRange(1, 3).Draw(t, "relays") {
		k := relay(fmt.Sprint("k", i), i)
		for range rapid.IntRange(1, 2).Draw(t, "contacts") {
			k.Contacts = append(k.Contacts, randomContact(t, net, end))
		}
		r.Relays = append(r.Relays, k)
		coils = append(coils, k.Name)
	}
	for i := range rapid.IntRange(2, 3).Draw(t, "supplies") {
		kind := rapid.SampledFrom([]wiring.SupplyKind{wiring.LegacyA, wiring.Reference, wiring.Portable}).Draw(t, "kind")
		r.Supplies = append(r.Supplies, wiring.Supply{Name: fmt.Sprint("s", i), Kind: kind, Vbus: nets[i],
			Volts: within(quantity.Volts(rapid.Float64Range(2, 5).Draw(t, "volts")), 0.05), Output: quantity.Ohms(0.1)})
	}
	r.Conditions = []wiring.Condition{{Name: wiring.Isolated}}
	for i := range rapid.IntRange(1, 3).Draw(t, "conditions") {
		on := rapid.SliceOfDistinct(rapid.SampledFrom(coils), rapid.ID[string]).Draw(t, "on")
		r.Conditions = append(r.Conditions, wiring.Condition{Name: fmt.Sprint("c", i), On: on})
	}
	return r
}

func randomContact(t *rapid.T, net, end *rapid.Generator[string]) wiring.Contact {
	common, no := net.Draw(t, "common"), end.Draw(t, "no")
	nc := ""
	if rapid.Bool().Draw(t, "form C") {
		nc = end.Draw(t, "nc")
	}
	return contactOf(common, no, nc)
}
