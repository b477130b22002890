package circuit_test

import (
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"sinkproof/bench/circuit"

	"github.com/stretchr/testify/require"
)

// tape deals values out of a byte string, zeros when it is used up.
type tape []byte

func (t *tape) byte() byte {
	if len(*t) == 0 {
		return 0
	}
	b := (*t)[0]
	*t = (*t)[1:]
	return b
}

// value is mostly a plausible magnitude, sometimes any float64 at all.
func (t *tape) value() float64 {
	switch b := t.byte(); {
	case b < 8:
		var raw [8]byte
		for i := range raw {
			raw[i] = t.byte()
		}
		return math.Float64frombits(binary.LittleEndian.Uint64(raw[:]))
	case b < 16:
		return -float64(t.byte())
	default:
		return math.Pow(10, float64(b)/10-15) * (1 + float64(t.byte())/64)
	}
}

func (t *tape) element(n *circuit.Netlist, at []circuit.Node) circuit.ElementID {
	node := func() circuit.Node { return at[int(t.byte())%len(at)] }
	kind, a, b := t.byte()%10, node(), node()
	x, y, z := t.value(), t.value(), t.value()
	switch kind {
	case 0, 1:
		return n.Resistor("r", a, b, x)
	case 2:
		return n.Capacitor("c", a, b, x, y)
	case 3:
		return n.VoltageSource("v", a, b, x, y)
	case 4:
		return n.CurrentSource("j", a, b, x)
	case 5:
		return n.Switch("k", a, b, x)
	case 6:
		return n.Diode("d", a, b, x, y, z)
	case 7:
		return n.LimitedSupply("s", a, b, x, y, z, t.byte()%2 == 0)
	case 8:
		return n.LimitedCurrentSource("i", a, b, x, y, z)
	}
	p := typical()
	p.ChargeAmperes, p.OutputOhms, p.DropoutOhms = 0.01+math.Abs(x), y, z
	p.SoftStartSteps, p.SoftStartSeconds = int(t.byte()%5), 1e-3
	return n.Charger("q", a, b, node(), p)
}

// act changes something and lets time pass.
func (t *tape) act(s *circuit.Sim, id circuit.ElementID) error {
	switch t.byte() % 6 {
	case 0, 1:
		_ = s.SetSwitch(id, t.byte()%2 == 0)
	case 2:
		_ = s.SetVolts(id, t.value())
	case 3:
		_ = s.SetAmperes(id, t.value())
	case 4:
		_ = s.SetEnabled(id, t.byte()%2 == 0)
	case 5:
		_ = s.SetOhms(id, t.value())
	}
	_, err := s.AdvanceTo(s.Now() + math.Pow(10, float64(t.byte())/25-9))
	return err
}

// named tells whether an error is one that the package promises.
func named(err error) bool {
	for _, e := range []error{circuit.ErrFloating, circuit.ErrSingular, circuit.ErrChatter, circuit.ErrComplex, circuit.ErrValue} {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

// Any network gives finite voltages or a named error, never a panic or a NaN.
func FuzzNetwork(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte("a network of some bytes that is not much of a circuit but still one"))
	f.Add([]byte{3, 9, 2, 1, 0, 120, 1, 7, 1, 0, 155, 1, 150, 1, 150, 1, 5, 1, 2, 140, 3, 9, 2, 0, 1, 150, 1, 150, 1, 150})
	f.Fuzz(func(t *testing.T, data []byte) {
		in := tape(data)
		n := circuit.New()
		at := []circuit.Node{circuit.Ground}
		for i := 0; i < 1+int(in.byte()%6); i++ {
			at = append(at, n.Node(string(rune('a'+i))))
		}
		var ids []circuit.ElementID
		for i := 1 + int(in.byte()%16); i > 0; i-- {
			ids = append(ids, in.element(n, at))
		}
		s, err := n.Start()
		for i := 0; err == nil && i < 8; i++ {
			for _, node := range at {
				v := s.Volts(node)
				require.False(t, math.IsNaN(v) || math.IsInf(v, 0), "node %d: %g", node, v)
			}
			if _, err := s.DC(); err != nil {
				require.True(t, named(err), "%v", err)
			}
			err = in.act(s, ids[int(in.byte())%len(ids)])
		}
		if err != nil {
			require.True(t, named(err), "%v", err)
		}
	})
}
