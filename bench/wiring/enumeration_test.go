package wiring_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// The proof is compared with what it spares: every state of every contact in
// every setting and in both phases of every move between two settings.

// wire is one contact's throw, or a part, that conducts in a state.
type wire struct {
	a, b      string
	low, high float64
}

// throwsOf lists what a contact can be: every way it stands as a wire, or nil.
func throwsOf(c *wiring.Contact, on, off bool) []*wire {
	var out []*wire
	if on && off {
		out = append(out, nil) // on the way
	}
	to := func(net string) {
		if net == "" {
			out = append(out, nil)
			return
		}
		out = append(out, &wire{c.Common, net, c.Resistance.Low().SI, c.Resistance.High().SI})
	}
	if on {
		to(c.NO)
	}
	if off {
		if c.Form == wiring.FormC {
			to(c.NC)
		} else {
			to("")
		}
	}
	return out
}

// states calls f with the wires of every combination of contacts; on and off
// say what each relay may be.
func states(r *wiring.Rig, on, off func(relay string) bool, f func([]wire)) {
	var fixed []wire
	for _, p := range r.Parts {
		fixed = append(fixed, wire{p.A, p.B, p.Value.Low().SI, p.Value.High().SI})
	}
	var choices [][]*wire
	for _, k := range r.Relays {
		for i := range k.Contacts {
			choices = append(choices, throwsOf(&k.Contacts[i], on(k.Name), off(k.Name)))
		}
	}
	var walk func(i int, wires []wire)
	walk = func(i int, wires []wire) {
		if i == len(choices) {
			f(wires)
			return
		}
		for _, w := range choices[i] {
			if w == nil {
				walk(i+1, wires)
			} else {
				walk(i+1, append(slices.Clip(wires), *w))
			}
		}
	}
	walk(0, fixed)
}

// moves calls f for every setting and for both phases of every move between
// any two, given up in the middle included.
func moves(r *wiring.Rig, f func([]wire)) {
	all := r.States()
	for _, from := range all {
		for _, to := range all {
			// Break: what is on only in the first may be either.
			states(r, from.Holds, func(k string) bool { return !from.Holds(k) || !to.Holds(k) }, f)
			// Make: what is on in the second may be either, unless it was on.
			states(r, to.Holds, func(k string) bool { return !to.Holds(k) || !from.Holds(k) }, f)
		}
	}
}

// nearest gives the resistance of the best path between two nets, not through
// ground, by the algorithm of Floyd and Warshall.
func nearest(r *wiring.Rig, wires []wire, a, b string) float64 {
	names := []string{wiring.Ground}
	for _, n := range r.Nets {
		names = append(names, n.Name)
	}
	d := make([][]float64, len(names))
	for i := range d {
		d[i] = make([]float64, len(names))
		for j := range d[i] {
			if i != j {
				d[i][j] = math.Inf(1)
			}
		}
	}
	for _, w := range wires {
		i, j := slices.Index(names, w.a), slices.Index(names, w.b)
		d[i][j] = min(d[i][j], w.low)
		d[j][i] = d[i][j]
	}
	for k := 1; k < len(names); k++ { // ground is no way through
		for i := range names {
			for j := range names {
				d[i][j] = min(d[i][j], d[i][k]+d[k][j])
			}
		}
	}
	return d[slices.Index(names, a)][slices.Index(names, b)]
}

func TestProofAgreesWithEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRig(t)
		joined, shorted := false, false
		moves(r, func(wires []wire) {
			for i, a := range r.Supplies {
				shorted = shorted || nearest(r, wires, a.Vbus, wiring.Ground) < r.Isolation.SI
				for _, b := range r.Supplies[i+1:] {
					joined = joined || nearest(r, wires, a.Vbus, b.Vbus) < r.Isolation.SI
				}
			}
		})
		_, violations := wiring.Prove(r)
		require.Equal(t, joined, says(violations, wiring.JoinedSupplies), "joined supplies")
		require.Equal(t, shorted, says(violations, wiring.ShortedSupply), "a shorted supply")
	})
}

func TestWeldsAgreeWithEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRig(t)
		proof, violations := wiring.Prove(r)
		if says(violations, wiring.JoinedSupplies) {
			return // welds are looked for on a rig that is sound without them
		}
		found := map[string]bool{}
		for k := range r.Relays {
			for c := range r.Relays[k].Contacts {
				for _, throw := range []string{"NO", "NC"} {
					if weldJoins(r, k, c, throw) {
						found[throw+contactName(r, k, c)] = true
					}
				}
			}
		}
		listed := map[string]bool{}
		for _, w := range proof.Welds {
			listed[w.Throw+w.Contact] = true
		}
		require.Equal(t, found, listed)
	})
}

func contactName(r *wiring.Rig, k, c int) string {
	if len(r.Relays[k].Contacts) == 1 {
		return r.Relays[k].Name
	}
	return r.Relays[k].Name + "." + r.Relays[k].Contacts[c].Name
}

// weldJoins replaces one contact by a piece of wire and looks again.
func weldJoins(r *wiring.Rig, k, c int, throw string) bool {
	broken := *r
	broken.Relays = slices.Clone(r.Relays)
	contacts := slices.Clone(r.Relays[k].Contacts)
	x := contacts[c]
	net := x.NO
	if throw == "NC" {
		net = x.NC
	}
	if net == "" {
		return false
	}
	contacts = append(contacts[:c:c], contacts[c+1:]...)
	broken.Relays[k].Contacts = contacts
	joined := false
	moves(&broken, func(wires []wire) {
		wires = append(slices.Clip(wires), wire{x.Common, net, x.Resistance.Low().SI, x.Resistance.High().SI})
		for i, a := range r.Supplies {
			for _, b := range r.Supplies[i+1:] {
				joined = joined || nearest(r, wires, a.Vbus, b.Vbus) < r.Isolation.SI
			}
		}
	})
	return joined
}

func says(violations []wiring.Violation, summary string) bool {
	return slices.ContainsFunc(violations, func(v wiring.Violation) bool { return v.Summary == summary })
}

// TestBoundsHold solves every state of every setting as a network, supplies
// on or off, parts at either end of their tolerance, and compares each node
// with its proven bound.
func TestBoundsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := randomRig(t)
		proof, _ := wiring.Prove(r)
		bound := map[string]float64{}
		for _, b := range proof.Highest {
			bound[b.Net] = b.Volts
		}
		seed := rapid.Uint64().Draw(t, "ends")
		n := 0
		moves(r, func(wires []wire) {
			if n++; n%7 != 1 {
				return // a sample of the states is enough: the draw changes
			}
			seed = seed*6364136223846793005 + 1442695040888963407
			for net, v := range solve(r, wires, seed>>33) {
				require.LessOrEqual(t, v, bound[net]+1e-6, "net %s", net)
			}
		})
	})
}

// solve is a plain nodal analysis; bits choose the end of each tolerance and
// which supplies are on. Nets that nothing holds are left out.
func solve(r *wiring.Rig, wires []wire, bits uint64) map[string]float64 {
	index := map[string]int{}
	for i, n := range r.Nets {
		index[n.Name] = i
	}
	g := mat.NewDense(len(r.Nets), len(r.Nets), nil)
	rhs := mat.NewVecDense(len(r.Nets), nil)
	for i := range r.Nets {
		g.Set(i, i, 1e-12) // holds a floating net at ground
	}
	for _, w := range wires {
		ohms := w.low
		if bits&1 == 1 {
			ohms = w.high
		}
		bits >>= 1
		i, ok1 := index[w.a]
		j, ok2 := index[w.b]
		stamp(g, i, j, ok1, ok2, 1/ohms)
	}
	for _, s := range r.Supplies {
		if bits&1 == 1 {
			i := index[s.Vbus]
			g.Set(i, i, g.At(i, i)+1/s.Output.SI)
			rhs.SetVec(i, rhs.AtVec(i)+s.Volts.High().SI/s.Output.SI)
		}
		bits >>= 1
	}
	var x mat.VecDense
	out := map[string]float64{}
	if err := x.SolveVec(g, rhs); err != nil {
		if _, poor := err.(mat.Condition); !poor {
			return out
		}
	}
	for name, i := range index {
		out[name] = x.AtVec(i)
	}
	return out
}

func stamp(g *mat.Dense, i, j int, first, second bool, siemens float64) {
	if first {
		g.Set(i, i, g.At(i, i)+siemens)
	}
	if second {
		g.Set(j, j, g.At(j, j)+siemens)
	}
	if first && second && i != j {
		g.Set(i, j, g.At(i, j)-siemens)
		g.Set(j, i, g.At(j, i)-siemens)
	}
	if first && second && i == j {
		g.Set(i, i, g.At(i, i)-2*siemens)
	}
}

// TestWeldBesideAMovingChangeOver: where both throws of a moving change-over
// contact count as closed, the nets around it look like one island with two
// supplies on it. A contact inside that island still joins them by its weld.
func TestWeldBesideAMovingChangeOver(t *testing.T) {
	r := &wiring.Rig{Isolation: quantity.Ohms(100), Mains: quantity.Hertz(50)}
	for _, n := range []string{"n1", "n2", "n6"} {
		r.Nets = append(r.Nets, wiring.Net{Name: n, Rating: quantity.Volts(6)})
	}
	k0, k1 := relay("k0", 0), relay("k1", 1)
	k0.Contacts = []wiring.Contact{contactOf("n6", "n1", "n2")}
	k1.Contacts = []wiring.Contact{contactOf("n2", "n6", "")}
	r.Relays = []wiring.Relay{k0, k1}
	for i, n := range []string{"n1", "n2"} {
		r.Supplies = append(r.Supplies, wiring.Supply{Name: fmt.Sprint("s", i), Kind: wiring.LegacyA, Vbus: n,
			Volts: within(quantity.Volts(5), 0.05), Output: quantity.Ohms(0.1)})
	}
	r.Conditions = []wiring.Condition{{Name: wiring.Isolated}, {Name: "c0", On: []string{"k0"}}}
	proof, violations := wiring.Prove(r)
	require.False(t, says(violations, wiring.JoinedSupplies))
	require.Len(t, proof.Welds, 1)
	require.Equal(t, "k1", proof.Welds[0].Contact)
}
