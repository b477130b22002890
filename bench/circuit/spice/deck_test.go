package spice

import (
	"errors"
	"strings"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
)

// The guess in the netlist does not make the answer: with wrong ones ngspice
// still finds the divider and the diode.
func TestAWrongGuessIsNotKept(t *testing.T) {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("v", in, circuit.Ground, 5, 1)
	n.Resistor("r", in, out, 999)
	n.Diode("d", out, circuit.Ground, 0.7, 10, 1e-9)
	s, err := n.Start()
	require.NoError(t, err)
	d := newDeck(s, "wrong guess", nil)
	d.card(".nodeset v(n1)=-3 v(n2)=4")
	d.card(".op")
	d.card(".end")
	w, err := run(d.String(), d.nodes)
	require.NoError(t, err)
	dc, err := s.DC()
	require.NoError(t, err)
	require.InDelta(t, dc[in], w.Volts[in][0], 1e-6)
	require.InDelta(t, dc[out], w.Volts[out][0], 1e-6)
}

// Every kind of element has its card, and those that are off have none.
func TestDeckOfEveryKind(t *testing.T) {
	n := circuit.New()
	a, b, c := n.Node("a"), n.Node("b"), n.Node("c")
	g := circuit.Ground
	n.Resistor("r", a, g, 1e3)
	n.Capacitor("c", a, g, 1e-6, 2)
	n.VoltageSource("v", a, b, 5, 2)
	n.CurrentSource("i", g, a, 1e-3)
	k := n.Switch("k", a, c, 0.1)
	n.Switch("open", b, c, 0.1)
	n.Diode("d", g, b, 0.7, 10, 1e-6)
	n.LimitedSupply("s", b, g, 3, 0.1, 1, true)
	off := n.LimitedCurrentSource("off", b, g, 1e-3, 3, 1e-3)
	n.Resistor("rc", c, g, 1e3)
	n.Resistor("rb", b, g, 1e3)
	s, err := n.Start()
	require.NoError(t, err)
	require.NoError(t, s.SetSwitch(k, true))
	require.NoError(t, s.SetEnabled(off, false))
	text, err := Netlist(s, 1e-3, 1e-6)
	require.NoError(t, err)
	for _, card := range []string{
		"r0 n1 0 1000\n", "c1 n1 0 9.9999999999999995e-07 ic=", "v2 x2 n2 dc 5\nr2 x2 n1 2\n", "i3 0 n1 dc 0.001\n",
		"r4 n1 n3 0.1", "b6 0 n2 i=", "((-v(n2))-(0.69", "b7 0 n2 i=max(-1,min(1,(3-v(n2))/0.1", ".ic v(n1)=", ".tran ",
	} {
		require.Contains(t, text, card)
	}
	require.NotContains(t, text, "r5 ")
	require.NotContains(t, text, "b8 ")
	d := newDeck(s, "exponential", []Option{ExponentialDiodes(1e-3)})
	require.Contains(t, d.String(), "d6 0 n2 m6\n.model m6 d(is=")
	require.Contains(t, d.String(), "r6 0 n2 1000000")
}

// What ngspice refuses is reported with its own words.
func TestRunReportsWhatNgspiceSays(t *testing.T) {
	_, err := run("nothing to do\nr1 n1 0 1k\n.end\n", nil)
	require.ErrorIs(t, err, ErrRun)
}

func TestParseRefusesWhatIsNoRawFile(t *testing.T) {
	for name, raw := range map[string]string{
		"text":      "no such thing",
		"no points": "Variables:\n\t0\ttime\ttime\nBinary:\n12345678",
		"too short": "No. Points: 2 \nVariables:\n\t0\ttime\ttime\nBinary:\n12345678",
		"nameless":  "No. Points: 2 \nBinary:\n12345678",
		"negative":  "No. Points: -2 \nVariables:\n\t0\ttime\ttime\nBinary:\n12345678",
	} {
		_, err := parse([]byte(raw), nil)
		require.Error(t, err, name)
	}
}

// The parser of raw files takes any bytes without a panic.
func FuzzParse(f *testing.F) {
	f.Add([]byte("No. Points: 1 \nVariables:\n\t0\ttime\ttime\n\t1\tv(n1)\tvoltage\nBinary:\n1234567812345678"))
	f.Add([]byte(strings.Repeat("Variables:\n", 3)))
	f.Fuzz(func(t *testing.T, raw []byte) {
		w, err := parse(raw, map[circuit.Node]bool{1: true})
		if err == nil {
			require.NotNil(t, w)
			require.False(t, errors.Is(err, ErrRun))
		}
	})
}
