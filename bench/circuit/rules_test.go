package circuit_test

import (
	"errors"
	"math"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

func TestAGroupWithoutAnythingIsNamed(t *testing.T) {
	n := circuit.New()
	a, b := n.Node("left pad"), n.Node("right pad")
	n.Resistor("r", a, b, 10)
	_, err := n.Start()
	var floating *circuit.FloatingError
	require.ErrorAs(t, err, &floating)
	require.ErrorIs(t, err, circuit.ErrFloating)
	require.Equal(t, []string{"left pad", "right pad"}, floating.Nodes)
	require.Equal(t, "node left pad, right pad: no path to ground and no capacitor", err.Error())
}

// A cut-off group keeps its charge, and its level if no capacitor goes to ground.
func TestAGroupCutOffKeepsCharge(t *testing.T) {
	n := circuit.New()
	in, a, b := n.Node("in"), n.Node("a"), n.Node("b")
	n.VoltageSource("v", in, circuit.Ground, 5, 1)
	k := n.Switch("k", in, a, 1)
	low := n.Switch("low", b, circuit.Ground, 1)
	n.Capacitor("across", a, b, 1e-6, 0)
	n.Capacitor("in", in, circuit.Ground, 1e-9, 5)
	s, err := n.Start()
	require.NoError(t, err)
	require.NoError(t, s.SetSwitch(k, true))
	require.NoError(t, s.SetSwitch(low, true))
	_, err = s.AdvanceTo(1)
	require.NoError(t, err)
	require.NoError(t, s.SetSwitch(k, false))
	require.NoError(t, s.SetSwitch(low, false))
	_, err = s.AdvanceTo(100)
	require.NoError(t, err)
	require.InDelta(t, 5, s.Volts(a), 1e-9)
	require.InDelta(t, 0, s.Volts(b), 1e-9)
	_, err = s.DC()
	require.ErrorIs(t, err, circuit.ErrFloating)
	dc, tied, err := s.DCTied()
	require.NoError(t, err)
	require.Equal(t, []circuit.Node{a, b}, tied)
	require.InDelta(t, 0, dc[a], 1e-9)
	require.ErrorIs(t, s.OperatingPoint(), circuit.ErrFloating)
	require.NoError(t, s.SetSwitch(low, true))
	_, err = s.AdvanceTo(101)
	require.NoError(t, err)
	require.InDelta(t, 5, s.Volts(a), 1e-9)
}

func TestValuesOutsideTheirDomain(t *testing.T) {
	g := circuit.Ground
	for name, add := range map[string]func(*circuit.Netlist, circuit.Node){
		"zero resistance":        func(n *circuit.Netlist, a circuit.Node) { n.Resistor("x", a, g, 0) },
		"negative capacitance":   func(n *circuit.Netlist, a circuit.Node) { n.Capacitor("x", a, g, -1, 0) },
		"endless start":          func(n *circuit.Netlist, a circuit.Node) { n.Capacitor("x", a, g, 1, math.Inf(1)) },
		"ideal source":           func(n *circuit.Netlist, a circuit.Node) { n.VoltageSource("x", a, g, 5, 0) },
		"voltage not a number":   func(n *circuit.Netlist, a circuit.Node) { n.VoltageSource("x", a, g, math.NaN(), 1) },
		"current not a number":   func(n *circuit.Netlist, a circuit.Node) { n.CurrentSource("x", a, g, math.NaN()) },
		"closed for nothing":     func(n *circuit.Netlist, a circuit.Node) { n.Switch("x", a, g, 0) },
		"negative leak":          func(n *circuit.Netlist, a circuit.Node) { n.Diode("x", a, g, 0.7, 1, -1) },
		"negative limit":         func(n *circuit.Netlist, a circuit.Node) { n.LimitedSupply("x", a, g, 5, 1, -1, false) },
		"no output conductance":  func(n *circuit.Netlist, a circuit.Node) { n.LimitedCurrentSource("x", a, g, 1, 5, 0) },
		"node of another":        func(n *circuit.Netlist, a circuit.Node) { n.Resistor("x", a, 99, 1) },
		"charger without limits": func(n *circuit.Netlist, a circuit.Node) { n.Charger("x", a, g, a, circuit.ChargerParams{}) },
	} {
		t.Run(name, func(t *testing.T) {
			n := circuit.New()
			add(n, n.Node("a"))
			_, err := n.Start()
			var value *circuit.ValueError
			require.ErrorAs(t, err, &value)
			require.Equal(t, "x", value.Element)
			require.ErrorIs(t, err, circuit.ErrValue)
		})
	}
}

func TestSettersRefuseTheWrongKind(t *testing.T) {
	n := circuit.New()
	a := n.Node("a")
	r := n.Resistor("r", a, circuit.Ground, 1)
	v := n.VoltageSource("v", a, circuit.Ground, 1, 1)
	s, err := n.Start()
	require.NoError(t, err)
	require.ErrorIs(t, s.SetSwitch(r, true), circuit.ErrKind)
	require.ErrorIs(t, s.SetVolts(r, 1), circuit.ErrKind)
	require.ErrorIs(t, s.SetAmperes(v, 1), circuit.ErrKind)
	require.ErrorIs(t, s.SetOhms(v, 1), circuit.ErrKind)
	require.ErrorIs(t, s.SetEnabled(v, true), circuit.ErrKind)
	require.ErrorIs(t, s.SetOhms(99, 1), circuit.ErrKind)
	require.ErrorIs(t, s.SetOhms(r, -1), circuit.ErrValue)
	require.ErrorIs(t, s.SetVolts(v, math.NaN()), circuit.ErrValue)
	_, err = s.InputAmperes(r)
	require.EqualError(t, err, "resistor r: input current: the element has no such property")
	_, err = s.AdvanceTo(1)
	require.NoError(t, err)
	_, err = s.AdvanceTo(0.5)
	require.ErrorIs(t, err, circuit.ErrTime)
	_, err = s.VoltsAt(a, 0.5)
	require.ErrorIs(t, err, circuit.ErrTime)
}

// An error does not stick: put the cause right, and the network goes on.
func TestAnErrorCanBePutRight(t *testing.T) {
	n := circuit.New()
	a, b := n.Node("a"), n.Node("b")
	n.VoltageSource("v", a, circuit.Ground, 5, 1)
	k := n.Switch("k", a, b, 1)
	s, err := n.Start()
	require.ErrorIs(t, err, circuit.ErrFloating)
	require.Nil(t, s)
	n.Capacitor("c", b, circuit.Ground, 1e-12, 0)
	s, err = n.Start()
	require.NoError(t, err)
	require.NoError(t, s.SetSwitch(k, true))
	require.InDelta(t, 5, s.Volts(b), 1e-9)
}

func TestWatches(t *testing.T) {
	n := circuit.New()
	in, a := n.Node("in"), n.Node("a")
	src := n.VoltageSource("v", in, circuit.Ground, 5, 1)
	n.Resistor("r", in, a, 999)
	n.Capacitor("c", a, circuit.Ground, 1e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	up, up2 := s.Watch(a, 2.5, true), s.Watch(a, 2.5, true)
	down := s.Watch(a, 1, false)
	require.True(t, s.Beyond(down))
	require.False(t, s.Beyond(up))
	_, err = s.VoltsAt(a, 1)
	require.True(t, errors.Is(err, circuit.ErrEventBetween))
	next := func() circuit.WatchID {
		id, err := s.AdvanceTo(0.01)
		require.NoError(t, err)
		return id
	}
	require.Equal(t, up, next())
	require.Equal(t, up2, next(), "both fire at the same instant")
	require.InDelta(t, 1e-3*math.Log(2), s.Now(), 1e-12)
	require.True(t, s.Beyond(up))
	require.False(t, s.Beyond(down))
	require.EqualValues(t, -1, next())
	// A jump at an entry counts as a crossing.
	jump := s.Watch(in, 3, false)
	require.NoError(t, s.SetVolts(src, 0))
	id, err := s.AdvanceTo(0.02)
	require.NoError(t, err)
	require.Equal(t, jump, id)
	require.Equal(t, 0.01, s.Now())
	id, err = s.AdvanceTo(0.02)
	require.NoError(t, err)
	require.Equal(t, down, id, "it fell through 1 V")
	require.InDelta(t, 0.01+1e-3*math.Log(5*(1-math.Exp(-10))), s.Now(), 1e-9)
	s.Unwatch(up)
	s.Unwatch(up)
	require.Equal(t, up, s.Watch(a, 4, true), "an id given back is used again")
}

// DC of linear networks against gonum's LU on equations assembled here.
func TestDCAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nodes := rapid.IntRange(1, 12).Draw(t, "nodes")
		n := circuit.New()
		g, b := mat.NewDense(nodes, nodes, nil), mat.NewVecDense(nodes, nil)
		stamp := func(i, j int, siemens, amperes float64) {
			for _, x := range [][2]int{{i, j}, {j, i}} {
				if x[0] > 0 {
					g.Set(x[0]-1, x[0]-1, g.At(x[0]-1, x[0]-1)+siemens)
					if x[1] > 0 {
						g.Set(x[0]-1, x[1]-1, g.At(x[0]-1, x[1]-1)-siemens)
					}
				}
			}
			if i > 0 {
				b.SetVec(i-1, b.AtVec(i-1)+amperes)
			}
			if j > 0 {
				b.SetVec(j-1, b.AtVec(j-1)-amperes)
			}
		}
		at := []circuit.Node{circuit.Ground}
		for i := 1; i <= nodes; i++ {
			at = append(at, n.Node(string(rune('a'+i))))
			n.Resistor("leak", at[i], circuit.Ground, 1e6)
			stamp(i, 0, 1e-6, 0)
		}
		for k := 0; k < 2*nodes; k++ {
			i, j := rapid.IntRange(0, nodes).Draw(t, "i"), rapid.IntRange(0, nodes).Draw(t, "j")
			if i == j {
				continue
			}
			ohms := math.Pow(10, rapid.Float64Range(-2, 6).Draw(t, "log ohms"))
			switch rapid.IntRange(0, 2).Draw(t, "kind") {
			case 0:
				n.Resistor("r", at[i], at[j], ohms)
				stamp(i, j, 1/ohms, 0)
			case 1:
				volts := rapid.Float64Range(-5, 5).Draw(t, "volts")
				n.VoltageSource("v", at[i], at[j], volts, ohms)
				stamp(i, j, 1/ohms, volts/ohms)
			case 2:
				amperes := rapid.Float64Range(-1e-3, 1e-3).Draw(t, "amperes")
				n.CurrentSource("i", at[j], at[i], amperes)
				stamp(i, j, 0, amperes)
			}
		}
		s, err := n.Start()
		require.NoError(t, err)
		got, err := s.DC()
		require.NoError(t, err)
		var lu mat.LU
		var want mat.VecDense
		lu.Factorize(g)
		require.NoError(t, lu.SolveVecTo(&want, false, b))
		for i := 1; i <= nodes; i++ {
			require.InDelta(t, want.AtVec(i-1), got[i], 1e-6*(1+math.Abs(got[i])))
			require.InDelta(t, got[i], s.Volts(at[i]), 1e-6*(1+math.Abs(got[i])), "without capacitors the transient is the DC solution")
		}
	})
}

// A clone goes its own way, from the same state.
func TestCloneIsIndependent(t *testing.T) {
	n := circuit.New()
	in, a := n.Node("in"), n.Node("a")
	src := n.VoltageSource("v", in, circuit.Ground, 5, 1)
	n.Resistor("r", in, a, 999)
	c := n.Capacitor("c", a, circuit.Ground, 1e-6, 0)
	s, err := n.Start()
	require.NoError(t, err)
	_, err = s.AdvanceTo(1e-3)
	require.NoError(t, err)
	k, err := s.Clone()
	require.NoError(t, err)
	require.Equal(t, s.Now(), k.Now())
	require.InDelta(t, s.Volts(a), k.Volts(a), 1e-12)
	require.InDelta(t, s.Amperes(c), k.Amperes(c), 1e-12)
	require.InDelta(t, (5-s.Volts(a))/1000, s.Amperes(c), 1e-12)
	require.NoError(t, k.SetVolts(src, 0))
	_, err = k.AdvanceTo(0.1)
	require.NoError(t, err)
	require.InDelta(t, 0, k.Volts(a), 1e-9)
	_, err = s.AdvanceTo(0.1)
	require.NoError(t, err)
	require.InDelta(t, 5, s.Volts(a), 1e-9)
	require.Equal(t, 3, s.Nodes())
	require.Equal(t, "a", s.NodeName(a))
	require.Equal(t, "ground", n.NodeName(circuit.Ground))
	require.Equal(t, 3, n.Nodes())
}

// What is faster than SettledSeconds happens at once with its charge kept: a
// parasitic on a contact follows, and shares the current by its capacitance.
func TestFastNodesFollow(t *testing.T) {
	n := circuit.New()
	a, b := n.Node("a"), n.Node("b")
	n.Capacitor("large", a, circuit.Ground, 1e-9, 0)
	n.Capacitor("small", b, circuit.Ground, 1e-10, 0)
	r := n.Resistor("contact", a, b, 0.1)
	n.CurrentSource("push", circuit.Ground, a, 1.1e-3)
	s, err := n.Start()
	require.NoError(t, err)
	// 1.1 mA on 1.1 nF: 1 V/µs; a tenth flows on into the small one, 0.1 mA over
	// 0.1 Ω.
	_, err = s.AdvanceTo(2e-6)
	require.NoError(t, err)
	require.InDelta(t, 1e-4, s.Amperes(r), 1e-9)
	require.InDelta(t, 1e-5, s.Volts(a)-s.Volts(b), 1e-10)
	require.InEpsilon(t, 1.1e-3*2e-6, 1e-9*s.Volts(a)+1e-10*s.Volts(b), 1e-9)
}

// A diode between two parasitics keeps its offset while charge is kept.
func TestFastDiodeKeepsChargeAndOffset(t *testing.T) {
	n := circuit.New()
	a, b := n.Node("a"), n.Node("b")
	n.Capacitor("ca", a, circuit.Ground, 10e-12, 3)
	n.Capacitor("cb", b, circuit.Ground, 20e-12, 0)
	d := n.Diode("d", a, b, 0.7, 1, 0)
	s, err := n.Start()
	require.NoError(t, err)
	require.Equal(t, "conducting", s.Segment(d))
	require.InDelta(t, 0.7, s.Volts(a)-s.Volts(b), 1e-9)
	require.InDelta(t, 30e-12, 10e-12*s.Volts(a)+20e-12*s.Volts(b), 1e-20)
}

func TestSegmentNames(t *testing.T) {
	n := circuit.New()
	a := n.Node("a")
	r := n.Resistor("r", a, circuit.Ground, 1)
	k := n.Switch("k", a, circuit.Ground, 1)
	s, err := n.Start()
	require.NoError(t, err)
	require.Equal(t, "linear", s.Segment(r))
	require.Equal(t, "open", s.Segment(k))
	require.NoError(t, s.SetSwitch(k, true))
	require.Equal(t, "closed", s.Segment(k))
	require.Equal(t, "limited current source", circuit.KindLimitedCurrentSource.String())
	parts := s.Parts()
	require.Len(t, parts, 2)
	require.True(t, parts[k].On)
	require.Equal(t, "closed", parts[k].Segment)
}
