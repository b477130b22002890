package circuit_test

import (
	"math"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// ladder is a bench with contacts, sources, clamps and dividers, and a unit on its
// far end; the base is marked or not.
type ladder struct {
	ohms     [6]float64
	unit     [3]float64
	amperes  float64
	farads   float64 // on the far side of a contact, an island of the base alone
	contacts [3]circuit.ElementID
	nodes    []circuit.Node
}

func (l *ladder) start(t require.TestingT, marked bool, old *circuit.Sim) *circuit.Sim {
	n := circuit.New()
	l.nodes = l.nodes[:0]
	node := func(name string) circuit.Node {
		id := n.Node(name)
		l.nodes = append(l.nodes, id)
		return id
	}
	g := circuit.Ground
	out, mid, feed, plug, tap, cc, far := node("out"), node("mid"), node("feed"), node("plug"), node("tap"), node("cc"), node("far")
	n.LimitedSupply("supply", out, g, 5.1, 0.05, 1.5, false)
	l.contacts[0] = n.Switch("k1", out, mid, l.ohms[0])
	l.contacts[1] = n.Switch("k2", mid, feed, l.ohms[0])
	n.Resistor("shunt", feed, plug, l.ohms[1])
	n.Resistor("top", plug, tap, l.ohms[2])
	n.Resistor("bottom", tap, g, l.ohms[3])
	n.Clamp("clamp", tap, g, 1.2, 10)
	n.CurrentSource("probe", g, mid, l.amperes)
	for _, at := range []circuit.Node{out, mid, feed, plug, tap, cc, far} {
		n.Resistor("insulation", at, g, 1e6)
	}
	n.Capacitor("filter", cc, g, 200e-12, 0)
	n.LimitedCurrentSource("pull-up", far, g, 330e-6, 3.3, 1e-3)
	n.Capacitor("store", far, g, l.farads, 0)
	l.contacts[2] = n.Switch("k3", far, cc, l.ohms[4])
	if marked {
		n.Base()
	}
	vbus, pin, lamp := node("vbus"), node("pin"), node("lamp")
	n.Resistor("contact", plug, vbus, l.unit[0])
	n.Capacitor("bulk", vbus, g, 4.7e-6, 0)
	n.Resistor("load", vbus, g, 1e3*l.unit[1])
	n.Resistor("joint", cc, pin, 0.05)
	n.Resistor("rd", pin, g, 5100*l.unit[2])
	n.Resistor("series", vbus, lamp, 1000)
	n.Diode("lamp", lamp, g, 1.9, 20, 1e-9)
	s, err := n.StartIn(old)
	require.NoError(t, err)
	return s
}

// course moves the contacts and returns every voltage on the way.
func (l *ladder) course(t require.TestingT, s *circuit.Sim, moves []int) []float64 {
	var seen []float64
	all := make([]float64, s.Nodes())
	closed := [3]bool{}
	for i, k := range moves {
		closed[k] = !closed[k]
		require.NoError(t, s.SetSwitch(l.contacts[k], closed[k]))
		_, err := s.AdvanceTo(s.Now() + math.Pow(10, -6+float64(i%4)))
		require.NoError(t, err)
		s.AllVolts(all)
		for _, n := range l.nodes {
			seen = append(seen, s.Volts(n))
			require.Equal(t, s.Volts(n), all[n])
		}
	}
	return seen
}

func drawLadder(t *rapid.T) *ladder {
	l := &ladder{amperes: rapid.Float64Range(0, 5e-3).Draw(t, "probe")}
	l.farads = rapid.Float64Range(1e-9, 1e-6).Draw(t, "farads")
	for i, most := range [...]float64{0.2, 1, 100e3, 100e3, 0.2, 1} {
		l.ohms[i] = most * rapid.Float64Range(0.1, 1).Draw(t, "ohms")
	}
	l.redraw(t)
	return l
}

func (l *ladder) redraw(t *rapid.T) {
	for i := range l.unit {
		l.unit[i] = rapid.Float64Range(0.02, 2).Draw(t, "unit")
	}
}

// A base changes no voltage. The other way is the elimination of all nodes with a
// pivot search, which the tests against closed forms and brute force prove.
func TestBaseChangesNoVoltage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLadder(t)
		moves := rapid.SliceOfN(rapid.IntRange(0, 2), 1, 12).Draw(t, "moves")
		want := l.course(t, l.start(t, false, nil), moves)
		got := l.course(t, l.start(t, true, nil), moves)
		for i := range want {
			require.InDelta(t, want[i], got[i], 1e-7*(1+math.Abs(want[i])))
		}
	})
}

// A network in the memory of another with the same base gives the same digits as
// one of its own, and so does one whose base has changed.
func TestKeptBaseGivesTheSameDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLadder(t)
		moves := rapid.SliceOfN(rapid.IntRange(0, 2), 1, 12).Draw(t, "moves")
		used := l.start(t, true, nil)
		l.course(t, used, moves)
		for range 3 {
			l.redraw(t)
			if rapid.Bool().Draw(t, "another base") {
				if which := rapid.IntRange(0, 4).Draw(t, "which"); which < 4 {
					l.ohms[which] *= 1.5
				} else {
					l.farads *= 1.5
				}
			}
			want := l.course(t, l.start(t, true, nil), moves)
			used = l.start(t, true, used)
			require.Equal(t, want, l.course(t, used, moves))
		}
	})
}

// A resistor of the base that changes its value in the run counts at once.
func TestBaseThatChangesInTheRun(t *testing.T) {
	n := circuit.New()
	a, b := n.Node("a"), n.Node("b")
	n.VoltageSource("supply", a, circuit.Ground, 10, 1)
	top := n.Resistor("top", a, b, 99)
	n.Resistor("bottom", b, circuit.Ground, 100)
	n.Base()
	n.Resistor("leak", a, circuit.Ground, 1e12)
	s, err := n.Start()
	require.NoError(t, err)
	require.InDelta(t, 5, s.Volts(b), 1e-9)
	require.NoError(t, s.SetOhms(top, 299))
	require.InDelta(t, 2.5, s.Volts(b), 1e-9)
}
