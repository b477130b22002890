package circuit_test

import (
	"fmt"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// rig is about as large as the twin's network of one nest: 30 nodes, 16
// contacts, a charger, two supplies, CC lines and a cell.
type rig struct {
	*circuit.Sim
	nodes    []circuit.Node
	contacts []circuit.ElementID
	charger  circuit.ElementID
	supply   circuit.ElementID
	vbus     circuit.Node
	cc1      circuit.Node
}

func newRig(t testing.TB) rig {
	n := circuit.New()
	g := circuit.Ground
	var r rig
	node := func(name string) circuit.Node {
		id := n.Node(name)
		r.nodes = append(r.nodes, id)
		return id
	}
	contact := func(a, b circuit.Node) {
		r.contacts = append(r.contacts, n.Switch(fmt.Sprintf("k%d", len(r.contacts)), a, b, 0.08))
	}
	a, c, rail := node("legacy out"), node("c out"), node("vbus rail")
	cable, ugnd, in, bat, cell := node("cable"), node("unit gnd"), node("in"), node("bat"), node("cell")
	r.vbus = in
	r.supply = n.LimitedSupply("legacy", a, g, 5.1, 0.05, 2.4, false)
	n.Capacitor("legacy c", a, g, 220e-6, 5.1)
	n.LimitedSupply("c supply", c, g, 5.05, 0.05, 3, false)
	n.Capacitor("c c", c, g, 10e-6, 5.05)
	contact(a, rail)
	contact(c, rail)
	n.Resistor("rail leak", rail, g, 1e6)
	contact(rail, cable)
	n.Resistor("bleeder", cable, g, 20e3)
	n.Resistor("cable", cable, in, 0.12)
	n.Resistor("cable gnd", ugnd, g, 0.06)
	n.Capacitor("gnd parasitic", ugnd, g, 10e-12, 0)
	n.Capacitor("bulk", in, ugnd, 4.7e-6, 0)
	r.charger = n.Charger("charger", in, ugnd, bat, typical())
	n.Capacitor("bat c", bat, ugnd, 4.7e-6, 3.7)
	n.Resistor("cell r", bat, cell, 0.12)
	n.Capacitor("cell", cell, ugnd, 5, 3.7)
	led := node("led")
	n.Resistor("led r", in, led, 1000)
	n.Diode("led", led, ugnd, 1.9, 20, 0)
	for i, name := range []string{"cc1", "cc2"} {
		plug, unit, rig, meas := node(name+" plug"), node(name+" unit"), node(name+" rig"), node(name+" adc")
		n.Resistor(name+" joint", plug, unit, 0.05)
		n.Resistor(name+" rd", unit, ugnd, 5100+float64(i))
		n.Capacitor(name+" cc", unit, ugnd, 200e-12, 0)
		contact(plug, rig)
		n.Resistor(name+" series", rig, meas, 1000)
		n.Capacitor(name+" meas", meas, g, 100e-12, 0)
		n.Resistor(name+" input", meas, g, 1e6)
		n.LimitedCurrentSource(name+" rp", rig, g, 330e-6, 3.3, 1e-3)
		n.Capacitor(name+" rig c", rig, g, 20e-12, 0)
		for j := 0; j < 4; j++ {
			far := node(fmt.Sprintf("%s aux %d", name, j))
			contact(rig, far)
			n.Resistor(name+"aux r", far, g, 1e5)
			n.Capacitor(name+"aux c", far, g, 10e-12, 0)
		}
		if i == 0 {
			r.cc1 = meas
		}
	}
	s, err := n.Start()
	require.NoError(t, err)
	r.Sim = s
	return r
}

func (r rig) set(t testing.TB, on bool, which ...int) {
	for _, i := range which {
		require.NoError(t, r.SetSwitch(r.contacts[i], on))
	}
}

// BenchmarkDC: one DC solve of the whole rig, segments searched and proved.
func BenchmarkDC(b *testing.B) {
	r := newRig(b)
	r.set(b, true, 0, 2, 3)
	_, err := r.AdvanceTo(0.1)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.DC(); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkInterval: a rig that has seen nothing yet goes through 13 contact
// states, so that all are solved for the first time; per state, the copy of the
// rig included.
func BenchmarkInterval(b *testing.B) {
	base := newRig(b)
	b.ReportAllocs()
	states := 0
	for b.Loop() {
		s, err := base.Clone()
		if err != nil {
			b.Fatal(err)
		}
		for _, k := range base.contacts {
			_ = s.SetSwitch(k, true)
			if _, err := s.AdvanceTo(s.Now() + 1e-4); err != nil {
				b.Fatal(err)
			}
			states++
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(states), "ns/state")
}

// BenchmarkRun has the shape of one test run of a unit: a new rig, 60 moves of
// contacts among about 40 states, and 3000 advances with a sample each.
func BenchmarkRun(b *testing.B) {
	base := newRig(b)
	b.ReportAllocs()
	for b.Loop() {
		s, err := base.Clone()
		if err != nil {
			b.Fatal(err)
		}
		for move := 0; move < 60; move++ {
			_ = s.SetSwitch(base.contacts[move*7%len(base.contacts)], move%3 != 2)
			for i := 0; i < 50; i++ {
				if _, err := s.AdvanceTo(s.Now() + 2e-4); err != nil {
					b.Fatal(err)
				}
				_ = s.Volts(base.nodes[i%len(base.nodes)])
			}
		}
	}
}

// BenchmarkReentry: two contacts moved and time passed, both states known.
func BenchmarkReentry(b *testing.B) {
	r := newRig(b)
	r.set(b, true, 0, 2)
	on := false
	b.ReportAllocs()
	for b.Loop() {
		on = !on
		_ = r.SetSwitch(r.contacts[3], on)
		_ = r.SetSwitch(r.contacts[4], on)
		if _, err := r.AdvanceTo(r.Now() + 1e-4); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkSample: one node voltage at a new instant.
func BenchmarkSample(b *testing.B) {
	r := newRig(b)
	r.set(b, true, 0, 2, 3)
	_, err := r.AdvanceTo(1e-3)
	require.NoError(b, err)
	b.ReportAllocs()
	t := r.Now()
	for b.Loop() {
		t += 1e-9
		if _, err := r.AdvanceTo(t); err != nil {
			b.Fatal(err)
		}
		_ = r.Volts(r.vbus)
	}
}

// BenchmarkGonumLU: the same size of system by gonum, as the yardstick.
func BenchmarkGonumLU(b *testing.B) {
	for _, n := range []int{10, 30} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			a, x := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
			for i := 0; i < n; i++ {
				for j := 0; j < n; j++ {
					a.Set(i, j, -1/float64(1+i+j))
				}
				a.Set(i, i, 5)
				x.SetVec(i, 1)
			}
			var lu mat.LU
			y := mat.NewVecDense(n, nil)
			b.ReportAllocs()
			for b.Loop() {
				lu.Factorize(a)
				if err := lu.SolveVecTo(y, false, x); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
