package wiring_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

func TestASafeRigIsProved(t *testing.T) {
	r := safeRig()
	require.Empty(t, r.Validate())
	proof, violations := wiring.Prove(r)
	require.Empty(t, violations)
	require.Equal(t, 4, proof.Settings)
	require.Equal(t, 4, proof.Situations)
	require.Equal(t, []string{"with-a", "with-b"}, proof.Powered)
	require.Empty(t, proof.Welds)
}

// The highest voltages of the small rig, by hand: a supply of 5.1 V + 3 % is
// 5.253 V, and of that the tap of two resistors of 510 kΩ ± 0.1 % has at most
// 510.51/(510.51 + 509.49) = 50.05 %, so 2.6291 V.
func TestHighestVoltages(t *testing.T) {
	proof, _ := wiring.Prove(safeRig())
	bound := map[string]float64{}
	for _, b := range proof.Highest {
		bound[b.Net] = b.Volts
	}
	require.InDelta(t, 5.253, bound["a.out"], 1e-9)
	require.InDelta(t, 5.253*0.5005, bound["tap"], 1e-5)
	require.InDelta(t, 5.253, bound["cc1"], 1e-5, "a broken unit joins CC1 with VBUS")
	require.InDelta(t, 2.8, bound["p.out"], 1e-9, "the compliance of the probe")
	require.NotContains(t, bound, wiring.Ground)
}

func TestViolations(t *testing.T) {
	cases := []struct {
		name   string
		damage func(r *wiring.Rig)
		want   string
		detail string
		path   string
	}{
		{
			name: "two supplies on one condition",
			damage: func(r *wiring.Rig) {
				r.Conditions[2].On = append(r.Conditions[2].On, "k_b1", "k_b2")
			},
			want:   wiring.JoinedSupplies,
			detail: "In with-a, the supplies one and two are joined through 200 mΩ: a.out (k_a1) a.mid (k_a2) feed (k_b2) b.mid (k_b1) b.out. Two supplies stay apart by 1 kΩ or more.",
			path:   "a.out (k_a1) a.mid (k_a2) feed (k_b2) b.mid (k_b1) b.out",
		},
		{
			name: "two supplies on one net",
			damage: func(r *wiring.Rig) {
				r.Supplies[1].Vbus = "a.out"
			},
			want:   wiring.JoinedSupplies,
			detail: "In isolated, the supplies one and two are joined through 0.00 Ω: a.out. Two supplies stay apart by 1 kΩ or more.",
			path:   "a.out",
		},
		{
			name: "a contact that lets go on the way",
			damage: func(r *wiring.Rig) {
				r.Relays[2].Contacts[0] = contactOf("b.out", "hi", "b.mid")
				r.Relays[3].Contacts[0] = contactOf("b.mid", "b.out", "feed")
				r.Conditions[2].On = append(r.Conditions[2].On, "k_b1")
			},
			want:   wiring.JoinedSupplies,
			detail: "On the way into or out of with-a, the supplies one and two are joined through 200 mΩ: a.out (k_a1) a.mid (k_a2) feed (k_b2) b.mid (k_b1) b.out. Two supplies stay apart by 1 kΩ or more.",
			path:   "a.out (k_a1) a.mid (k_a2) feed (k_b2) b.mid (k_b1) b.out",
		},
		{
			name: "one contact to a supply",
			damage: func(r *wiring.Rig) {
				r.Relays[0].Contacts[0] = contactOf("a.out", "feed", "")
				r.Conditions[2].On = []string{"k_a1", "k_bleed"}
			},
			want:   wiring.WeldedContact,
			detail: "In with-b, the supplies one and two are joined through 150 mΩ if the contact k_a1 is welded to NO: a.out (k_a1) feed (k_b2) b.mid (k_b1) b.out. Put a second contact in series.",
			path:   "a.out (k_a1) feed (k_b2) b.mid (k_b1) b.out",
		},
		{
			name: "the bleeder under a supply",
			damage: func(r *wiring.Rig) {
				r.Conditions[2].On = []string{"k_a1", "k_a2"}
			},
			want:   wiring.ShortedSupply,
			detail: "In with-a, the supply one is shorted to ground through 466 Ω: a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force (the unit) sense (k_bleed) bleed (r_bleed) gnd. No path to ground may be below 1 kΩ.",
			path:   "a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force (the unit) sense (k_bleed) bleed (r_bleed) gnd",
		},
		{
			name: "the feed among the relays",
			damage: func(r *wiring.Rig) {
				r.Conditions[2].On = append(r.Conditions[2].On, "s_feed")
				r.Conditions[2].Feed = nil
			},
			want:   wiring.HotContact,
			detail: `On the way into or out of with-a, the contact k_a1 moves while one reaches force: a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force. Put a solid-state switch in that path and list it under "feed".`,
			path:   "a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force",
		},
		{
			name: "solid state all the way, but not a feed",
			damage: func(r *wiring.Rig) {
				r.Relays[0].SolidState, r.Relays[1].SolidState = true, true
				r.Conditions[2].On = append(r.Conditions[2].On, "s_feed")
				r.Conditions[2].Feed = nil
			},
			want:   wiring.HotContact,
			detail: `On the way into or out of with-a, one reaches force with the feeds off: a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force. List a solid-state switch of that path under "feed", not under "on".`,
			path:   "a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force",
		},
		{
			name: "no bleeder without its coil",
			damage: func(r *wiring.Rig) {
				r.Relays[5].Contacts[0] = contactOf("sense", "bleed", "")
				for i := range r.Conditions {
					r.Conditions[i].On = without(r.Conditions[i].On, "k_bleed")
				}
			},
			want:   wiring.NotEmptied,
			detail: "with-a brings one to sense, and with every coil off nothing below 1 kΩ leads from there to ground. A switch that is closed without its coil must bleed it.",
		},
		{
			name: "a relay for a bleeder",
			damage: func(r *wiring.Rig) {
				r.Relays[5].SolidState = false
			},
			want:   wiring.NotEmptied,
			detail: "After with-a, the contact k_bleed closes onto sense while it is charged: sense (k_bleed) bleed (r_bleed) gnd. The bleeder must be a solid-state switch.",
			path:   "sense (k_bleed) bleed (r_bleed) gnd",
		},
		{
			name: "a supply that is always on a pin",
			damage: func(r *wiring.Rig) {
				r.Parts = append(r.Parts, wiring.Part{Name: "r_x", Kind: wiring.Resistor, A: "a.out", B: "cc1", Value: exact(quantity.Ohms(56e3))})
			},
			want:   wiring.NotIsolated,
			detail: `With every coil off, one reaches the unit: a.out (r_x) cc1. In "isolated" nothing may.`,
			path:   "a.out (r_x) cc1",
		},
		{
			name: "a supply that is soldered to a pin",
			damage: func(r *wiring.Rig) {
				r.Supplies[1].Vbus = "cc2"
			},
			want:   wiring.NotIsolated,
			detail: `With every coil off, two reaches the unit: cc2. In "isolated" nothing may.`,
			path:   "cc2",
		},
		{
			name: "power without the probe",
			damage: func(r *wiring.Rig) {
				r.Conditions[2].Needs = nil
			},
			want:   wiring.NotProbed,
			detail: `with-a brings one to the unit (a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force) but does not need probe-vbus; write needs = ["probe-vbus"].`,
			path:   "a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force",
		},
		{
			name: "power in the probe",
			damage: func(r *wiring.Rig) {
				r.Conditions[1].On = []string{"k_bleed", "k_a1", "k_a2"}
				r.Conditions[1].Feed = []string{"s_feed"}
			},
			want:   wiring.NotProbed,
			detail: "probe-vbus itself brings one to the unit: a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force. Only a supply of kind probe may be on there.",
			path:   "a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force",
		},
		{
			name: "a rating below the supply",
			damage: func(r *wiring.Rig) {
				n, _ := r.Net("cc2")
				n.Rating = quantity.Volts(5)
			},
			want:   wiring.OverRated,
			detail: "On the way into or out of with-a, the net cc2 can reach 5.253 V; it stands 5 V. The voltage comes from one: a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force (a broken unit) cc2.",
			path:   "a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force (a broken unit) cc2",
		},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := safeRig()
			c.damage(r)
			require.Empty(t, r.Validate(), "the damage is one that only the proof sees")
			_, violations := wiring.Prove(r)
			for _, v := range violations {
				if v.Summary == c.want && v.Detail == c.detail {
					require.Equal(t, c.path, v.Path)
					require.Equal(t, wiring.At("condition", v.Setting.Condition), v.Place)
					return
				}
			}
			require.Failf(t, "not found", "want %s: %s\ngot %v", c.want, c.detail, violations)
		})
	}
}

func without(list []string, name string) []string {
	var out []string
	for _, n := range list {
		if n != name {
			out = append(out, n)
		}
	}
	return out
}

// A clamp holds a net down: without it the tap of a divider with its lower
// resistor missing reaches the supply.
func TestClampHoldsANet(t *testing.T) {
	r := safeRig()
	r.Parts = append(r.Parts[:2:2], r.Parts[3]) // r_bot is gone
	_, violations := wiring.Prove(r)
	require.True(t, says(violations, wiring.OverRated))
	r.Parts = append(r.Parts, wiring.Part{Name: "d", Kind: wiring.Clamp, A: "tap", B: wiring.Ground, Value: within(quantity.Volts(2.7), 0.05)})
	proof, violations := wiring.Prove(r)
	require.False(t, says(violations, wiring.OverRated))
	for _, b := range proof.Highest {
		if b.Net == "tap" {
			require.InDelta(t, 2.7*1.05, b.Volts, 1e-9, "the upper end of the clamp's tolerance")
		}
	}
}

// A clamp into another net raises that net.
func TestClampRaisesItsFarNet(t *testing.T) {
	r := safeRig()
	r.Nets = append(r.Nets, wiring.Net{Name: "far", Rating: quantity.Volts(4)})
	r.Parts = append(r.Parts,
		wiring.Part{Name: "r_far", Kind: wiring.Resistor, A: "far", B: wiring.Ground, Value: exact(quantity.Ohms(1e6))},
		wiring.Part{Name: "d", Kind: wiring.Clamp, A: "sense", B: "far", Value: exact(quantity.Volts(0.5))})
	proof, violations := wiring.Prove(r)
	require.True(t, says(violations, wiring.OverRated))
	for _, b := range proof.Highest {
		if b.Net == "far" {
			require.InDelta(t, 4.753, b.Volts, 1e-3, "5.253 V less 0.5 V")
		}
	}
}

// A form C contact is in one throw at a time: two supplies on its two throws
// are never joined through it.
func TestChangeoverKeepsItsThrowsApart(t *testing.T) {
	r := &wiring.Rig{
		Isolation: quantity.Ohms(100),
		Nets:      []wiring.Net{{Name: "a"}, {Name: "b"}, {Name: "c"}},
		Supplies: []wiring.Supply{
			{Name: "one", Kind: wiring.LegacyA, Vbus: "a", Volts: exact(quantity.Volts(5))},
			{Name: "two", Kind: wiring.LegacyA, Vbus: "b", Volts: exact(quantity.Volts(5))},
		},
		Relays:     []wiring.Relay{relay("k", 0, contactOf("c", "a", "b"))},
		Conditions: []wiring.Condition{{Name: wiring.Isolated}, {Name: "x", On: []string{"k"}}},
	}
	proof, violations := wiring.Prove(r)
	require.False(t, says(violations, wiring.JoinedSupplies))
	require.Empty(t, proof.Welds)
}

func BenchmarkProveSmallRig(b *testing.B) {
	r := safeRig()
	for b.Loop() {
		wiring.Prove(r)
	}
}
