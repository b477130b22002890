package proving

import "math"

// prediction is what every channel may read: between low and high. Where no
// supply leaves open whether it is on, the shares of all causes in each value
// tell of ratios and slopes. Hundreds of predictions are kept, so these are of
// single precision.
type prediction struct {
	low, high, values []float64
	certain           []bool // by channel: all answers of the supplies give one value
	shares            [][]float32
	halves            []float32
	slopes            map[string][]float32 // by supply and channel
}

// value is the nominal value of a channel.
func (p *prediction) value(i int) float64 { return p.values[i] }

// predict solves the circuit for every answer that the supplies may have given.
func (m *model) predict(s stand, f change) (*prediction, error) {
	answers, err := m.answers(s, f)
	if err != nil {
		return nil, err
	}
	n := len(m.channels)
	out := &prediction{low: make([]float64, n), high: make([]float64, n), values: make([]float64, n),
		certain: make([]bool, n), shares: make([][]float32, n), slopes: map[string][]float32{}}
	for k, a := range answers {
		x, err := m.settle(s, f, a)
		if err != nil {
			return nil, err
		}
		if k == 0 {
			out.halves = x.halves()
		}
		for i, c := range m.channels {
			v, err := x.view(m.probe(c, s.state))
			if err != nil {
				return nil, err
			}
			half := x.half(v)
			low, high := v.value-half, v.value+half
			if k == 0 {
				out.values[i], out.low[i], out.high[i], out.certain[i] = v.value, low, high, true
				out.keep(i, x, v)
				continue
			}
			out.certain[i] = out.certain[i] && math.Abs(v.value-out.values[i]) < 1e-6*math.Abs(v.value)+1e-9
			out.low[i], out.high[i] = math.Min(out.low[i], low), math.Max(out.high[i], high)
		}
	}
	return out, nil
}

// keep notes how a channel moves with every cause, and with the supplies.
func (p *prediction) keep(channel int, x *solved, v view) {
	p.shares[channel] = make([]float32, len(v.shares))
	for i, share := range v.shares {
		p.shares[channel][i] = float32(share)
		if c := &x.causes[i]; c.source {
			if p.slopes[c.of] == nil {
				p.slopes[c.of] = make([]float32, len(p.values))
			}
			p.slopes[c.of][channel] += float32(share)
		}
	}
}

// slope is how a channel moves with a supply, relative.
func (p *prediction) slope(channel int, supply string) float64 {
	if s := p.slopes[supply]; s != nil {
		return float64(s[channel])
	}
	return 0
}

// ratioHalf is the half-width of the ratio of two channels; what moves both
// alike cancels.
func (p *prediction) ratioHalf(a, b int) float64 {
	sum, va, vb := 0.0, p.values[a], p.values[b]
	for i, half := range p.halves {
		sum += math.Abs(float64(p.shares[a][i])/vb-va*float64(p.shares[b][i])/(vb*vb)) * float64(half)
	}
	return sum
}
