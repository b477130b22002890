package bench

import (
	"context"
	"errors"
	"fmt"
	"math"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// bindTermination finds the two voltages of a termination channel and what
// loads the pin beside the unit.
func (r *Rig) bindTermination(c *channel) error {
	var err error
	if c.volts, err = r.channel(c.spec.Volts); err != nil {
		return fmt.Errorf("channel %s: %w", c.spec.Name, err)
	}
	if c.rail, err = r.channel(c.spec.Rail); err != nil {
		return fmt.Errorf("channel %s: %w", c.spec.Name, err)
	}
	if c.volts.adc == nil || c.volts.adc != c.rail.adc {
		return fmt.Errorf("channel %s: %s and %s are not read by one converter, so their gain does not cancel",
			c.spec.Name, c.spec.Volts, c.spec.Rail)
	}
	for _, p := range c.spec.Pulls {
		part, ok := r.wiring.Part(p.Part)
		relay, also := r.bank.find(p.Relay)
		if !ok || !also {
			return fmt.Errorf("channel %s: pull-up %q by %q: %w", c.spec.Name, p.Part, p.Relay, wiring.ErrUnknown)
		}
		c.pulls = append(c.pulls, pull{part, relay, r.pullUp(c.spec.Name, part)})
	}
	c.load, err = r.loadOn(c)
	if err != nil {
		return fmt.Errorf("channel %s: %w", c.spec.Name, err)
	}
	return nil
}

// loadOn is the conductance to ground that stands beside the unknown one, with
// the tolerances of its parts.
func (r *Rig) loadOn(c *channel) (quantity.Measured, error) {
	var n loads
	for _, name := range c.spec.Loads {
		p, ok := r.wiring.Part(name)
		if !ok || p.Kind != wiring.Resistor {
			return quantity.Measured{}, fmt.Errorf("load %q: no such resistor", name)
		}
		n = append(n, loadPart{p.A, p.B, p.Value.Nominal.SI, tolerance(p), p.Value.Relative()})
	}
	for i := range r.wiring.Chips {
		chip := &r.wiring.Chips[i]
		for in, net := range chip.Inputs {
			if chip.Kind == wiring.ADC && chip.Loading.SI > 0 && n.touches(net) {
				n = append(n, loadPart{net, wiring.Ground, chip.Loading.SI, loading(chip, in), loadingDoubt})
			}
		}
	}
	return n.measured(c.volts.spec.Net)
}

// nudge is the relative step of the numerical derivatives below. The
// conductance is a rational function of the resistances; at 1e-4 the error of
// the central difference is about 1e-8 of it.
const nudge = 1e-4

// loadPart is one resistance of a small network to ground.
type loadPart struct {
	a, b   string
	ohms   float64
	source string
	half   float64 // relative half-width of its tolerance
}

type loads []loadPart

func (n loads) touches(net string) bool {
	for _, p := range n {
		if net != "" && net != wiring.Ground && (p.a == net || p.b == net) {
			return true
		}
	}
	return false
}

// measured is the conductance from a net to ground with its contributions.
func (n loads) measured(net string) (quantity.Measured, error) {
	g, err := n.conductance(net)
	if err != nil {
		return quantity.Measured{}, err
	}
	parts := make([]quantity.Contribution, len(n))
	for i := range n {
		ohms := n[i].ohms
		n[i].ohms = ohms * (1 + nudge)
		above, err := n.conductance(net)
		n[i].ohms = ohms * (1 - nudge)
		below, err2 := n.conductance(net)
		n[i].ohms = ohms
		if err := errors.Join(err, err2); err != nil {
			return quantity.Measured{}, err
		}
		parts[i] = quantity.Uniform(n[i].source, n[i].half, (above-below)/(2*nudge))
	}
	return quantity.NewMeasured(quantity.Quantity{SI: g, Dim: quantity.Conductance}, parts...), nil
}

// conductance eliminates every node but the net and ground (star to mesh:
// Gaussian elimination of the nodal matrix). No parts give 0.
func (n loads) conductance(net string) (float64, error) {
	nodes := []string{net}
	index := func(name string) int {
		for i, known := range nodes {
			if known == name {
				return i
			}
		}
		nodes = append(nodes, name)
		return len(nodes) - 1
	}
	for _, p := range n {
		for _, name := range [...]string{p.a, p.b} {
			if name != wiring.Ground {
				index(name)
			}
		}
	}
	g := make([][]float64, len(nodes))
	for i := range g {
		g[i] = make([]float64, len(nodes))
	}
	for _, p := range n {
		if !(p.ohms > 0) {
			return 0, fmt.Errorf("load %s of %g ohm is no resistance above 0", p.source, p.ohms)
		}
		stamp(g, index, p)
	}
	for k := len(nodes) - 1; k > 0; k-- {
		if g[k][k] == 0 {
			continue
		}
		for i := range k {
			f := g[i][k] / g[k][k]
			for j := range k {
				g[i][j] -= f * g[k][j]
			}
		}
	}
	return g[0][0], nil
}

func stamp(g [][]float64, index func(string) int, p loadPart) {
	y := 1 / p.ohms
	if p.a != wiring.Ground {
		g[index(p.a)][index(p.a)] += y
	}
	if p.b != wiring.Ground {
		g[index(p.b)][index(p.b)] += y
	}
	if p.a != wiring.Ground && p.b != wiring.Ground {
		g[index(p.a)][index(p.b)] -= y
		g[index(p.b)][index(p.a)] -= y
	}
}

// readTermination measures pin and rail in the same range of one converter, so
// that its gain cancels in the ratio.
func (r *Rig) readTermination(ctx context.Context, c *channel, o ReadOptions) (Reading, error) {
	pulling, err := r.pullNow(c)
	if err != nil {
		return Reading{}, err
	}
	rng, err := r.firstRange(ctx, c.rail, ReadOptions{})
	if err != nil {
		return Reading{}, err
	}
	rail, rng, err := r.readIn(ctx, c.rail, rng, o)
	if err != nil {
		return Reading{}, err
	}
	volts, _, err := r.readIn(ctx, c.volts, rng, o)
	if err != nil {
		return Reading{}, err
	}
	m, err := resistance(volts.Value, rail.Value, pulling.value, c.load)
	if err != nil {
		return Reading{}, &Fault{What: "compute the termination", Thing: c.spec.Name,
			Hint: "Check the rail's supply and its divider.", Err: err}
	}
	if volts.Value.Bound != quantity.Exact && m.Bound == quantity.Exact {
		m.Bound = volts.Value.Bound // the resistance rises with the pin's voltage
	}
	return Reading{Channel: c.spec.Name, Value: m, At: rail.At + (volts.At-rail.At)/2,
		Saturated: m.Bound != quantity.Exact}, nil
}

// pullNow is the one pull-up that is connected.
func (r *Rig) pullNow(c *channel) (*pull, error) {
	var found *pull
	n := 0
	for i := range c.pulls {
		if p := &c.pulls[i]; !p.relay.and(r.bank.now).empty() {
			found, n = p, n+1
		}
	}
	if n != 1 {
		return nil, refuse("choose the pull-up", c.spec.Name, "Enter a setting that connects one pull-up.",
			fmt.Errorf("%d pull-ups are connected in %s, wanted is 1", n, r.state.Setting))
	}
	return found, nil
}

// openRatio is the relative uncertainty of the conductance beyond which a
// resistance is only bounded: at 10 % the term that first order neglects is
// about 1 % of the value.
const openRatio = 0.1

// resistance solves the pull-up for the resistance to ground:
//
//	q = V/Vrail,  R = q*P / (1 - q*(1 + P*G))
//
// with the pull-up P and the conductance G beside the unknown. The causes that
// V and Vrail share cancel in q.
//
// Near an open pin the denominator vanishes: the result is then "at least" what
// the upper end of the conductance allows. Near a short R is as small as it is
// read, below zero within its uncertainty.
func resistance(v, rail, pullUp, load quantity.Measured) (quantity.Measured, error) {
	if !(rail.SI > 0) {
		return quantity.Measured{}, fmt.Errorf("the rail reads %s", rail)
	}
	q, err := quantity.Ratio(v.WithBound(quantity.Exact), rail.WithBound(quantity.Exact))
	if err != nil {
		return quantity.Measured{}, err
	}
	rest, err := pullUp.Mul(load)
	if err != nil {
		return quantity.Measured{}, err
	}
	one := quantity.Known(quantity.Pure(1))
	if rest, err = one.Add(rest); err != nil {
		return quantity.Measured{}, err
	}
	if rest, err = q.Mul(rest); err != nil {
		return quantity.Measured{}, err
	}
	if rest, err = one.Sub(rest); err != nil {
		return quantity.Measured{}, err
	}
	over, err := q.Mul(pullUp)
	if err != nil {
		return quantity.Measured{}, err
	}
	if rest.SI < rest.Std()/openRatio {
		return atLeast(over, rest), nil
	}
	return over.Div(rest)
}

// atLeast is the resistance of an almost open pin, taken at the end of the
// expanded uncertainty that makes it smallest.
func atLeast(over, rest quantity.Measured) quantity.Measured {
	low := (over.SI - over.U().SI) / (math.Max(rest.SI, 0) + rest.U().SI)
	return quantity.Known(quantity.Ohms(math.Max(low, 0))).WithBound(quantity.AtLeast)
}
