package proving

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// errSingular is the cause when a circuit has no solution: never with the
// insulation of every net in it.
var errSingular = errors.New("the circuit has no solution")

// cause is something whose value a tolerance leaves open: a conductance, or a
// source as the current into its conductance (Norton).
type cause struct {
	// a and b are nodes, 0 for ground. A source flows into a.
	a, b   int
	value  float64 // siemens or amperes
	half   float64 // half-width of its tolerance, relative
	source bool
	of     string // the supply, for a source
}

// circuit is the rig in one state as conductances and current sources: every
// supply has a resistance, so that the nodal matrix is symmetric and positive
// definite.
type circuit struct {
	nodes  int // without ground
	causes []cause
}

func (c *circuit) conduct(a, b int, siemens, half float64) {
	if a != b {
		c.causes = append(c.causes, cause{a: a, b: b, value: siemens, half: half})
	}
}

// drive adds a voltage behind a resistance.
func (c *circuit) drive(node int, volts, half, ohms float64, supply string) {
	c.conduct(node, 0, 1/ohms, 0)
	c.inject(node, volts/ohms, half, supply)
}

func (c *circuit) inject(node int, amperes, half float64, supply string) {
	c.causes = append(c.causes, cause{a: node, value: amperes, half: half, source: true, of: supply})
}

// solved is a circuit with its node voltages. Node 0 is ground.
type solved struct {
	*circuit
	volts  []float64
	factor mat.Cholesky
}

// solve finds the node voltages (nodal analysis; Cholesky decomposition).
func (c *circuit) solve() (*solved, error) {
	g := mat.NewSymDense(c.nodes, nil)
	i := mat.NewVecDense(c.nodes, nil)
	for _, x := range c.causes {
		switch {
		case x.source && x.a > 0:
			i.SetVec(x.a-1, i.AtVec(x.a-1)+x.value)
		case x.source:
		default:
			stamp(g, x)
		}
	}
	s := &solved{circuit: c, volts: make([]float64, c.nodes+1)}
	if !s.factor.Factorize(g) {
		return nil, fmt.Errorf("%d nodes: %w", c.nodes, errSingular)
	}
	v := mat.NewVecDense(c.nodes, s.volts[1:])
	if err := s.factor.SolveVecTo(v, i); err != nil && !errors.As(err, new(mat.Condition)) {
		return nil, fmt.Errorf("solve %d nodes: %w", c.nodes, err)
	}
	return s, nil
}

func stamp(g *mat.SymDense, x cause) {
	for _, n := range [...]int{x.a, x.b} {
		if n > 0 {
			g.SetSym(n-1, n-1, g.At(n-1, n-1)+x.value)
		}
	}
	if x.a > 0 && x.b > 0 {
		g.SetSym(x.a-1, x.b-1, g.At(x.a-1, x.b-1)-x.value)
	}
}

// probe is what a channel sees: the voltage from one node to another, times a
// factor.
type probe struct {
	plus, minus int
	factor      float64
}

// view is a value of a circuit with how it moves with every cause: shares[i]
// is its change for a relative change of 1 of cause i.
type view struct {
	value  float64
	shares []float64
}

// view looks at a circuit through a probe. One more solution with the probe as
// the source gives all sensitivities at once (adjoint network; Director and
// Rohrer 1969): dV/dG between a and b is -(la-lb)(va-vb), dV/dI into a is la.
func (s *solved) view(p probe) (view, error) {
	e := mat.NewVecDense(s.nodes, nil)
	if p.plus > 0 {
		e.SetVec(p.plus-1, p.factor)
	}
	if p.minus > 0 {
		e.SetVec(p.minus-1, e.AtVec(p.minus-1)-p.factor)
	}
	l := make([]float64, s.nodes+1)
	if err := s.factor.SolveVecTo(mat.NewVecDense(s.nodes, l[1:]), e); err != nil && !errors.As(err, new(mat.Condition)) {
		return view{}, fmt.Errorf("adjoint of %d nodes: %w", s.nodes, err)
	}
	out := view{value: p.factor * (s.volts[p.plus] - s.volts[p.minus]), shares: make([]float64, len(s.causes))}
	for i, c := range s.causes {
		if c.source {
			out.shares[i] = l[c.a] * c.value
		} else {
			out.shares[i] = -(l[c.a] - l[c.b]) * (s.volts[c.a] - s.volts[c.b]) * c.value
		}
	}
	return out, nil
}

// half is the half-width that all tolerances together can give: the sum of
// their worst ends, to first order.
func (s *solved) half(v view) float64 {
	sum := 0.0
	for i, c := range s.causes {
		sum += math.Abs(v.shares[i]) * c.half
	}
	return sum
}

// halves are the relative half-widths of the tolerances of all causes.
func (s *solved) halves() []float32 {
	out := make([]float32, len(s.causes))
	for i, c := range s.causes {
		out[i] = float32(c.half)
	}
	return out
}
