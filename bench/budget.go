package bench

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// loadingDoubt is how far the input resistance of a converter may be from what
// the wiring states, relative. Data sheets print it as typical only (TI
// ADS1115L data sheet SBASAV5, input impedance); half is an own choice.
const loadingDoubt = 0.5

// relative is a cause that shifts a value in proportion to it.
type relative struct {
	source string
	half   float64 // half-width of the cause, relative
	sens   float64 // relative change of the value per relative change of the cause
}

// budget is how the raw reading of a chip becomes a value, and what that value
// may be wrong by. It is computed once per channel and range.
type budget struct {
	dim    quantity.Dim
	factor float64 // value = raw * factor + shift
	shift  float64 // of a calibration, in SI
	// relatives scale with the value, offset does not. Offset and noise are
	// in the raw unit.
	relatives []relative
	offset    float64 // half-width
	offsetOf  string  // source of the offset
	noise     float64 // rms of one conversion
	highest   float64 // top of what can be read, in SI; 0 for none

	// correction, when set, stands in the place of relatives and offset; standing
	// names its causes.
	correction *Correction
	standing   []string
}

// value is what a raw reading means, raw the reading that a value gives.
func (b *budget) value(raw float64) float64 { return raw*b.factor + b.shift }

func (b *budget) raw(value float64) float64 { return (value - b.shift) / b.factor }

// stats are the sums over some conversions of one input, in the raw unit.
type stats struct {
	n          int
	mean, m2   float64
	low, high  bool // a conversion stood at that end of the range
	step       float64
	conversion float64 // rms noise of one as the wiring states it
}

// add takes one more conversion (Welford's recurrence; Knuth, The Art of
// Computer Programming, vol. 2, 4.2.2).
func (s *stats) add(raw float64) {
	s.n++
	d := raw - s.mean
	s.mean += d / float64(s.n)
	s.m2 += d * (raw - s.mean)
}

// few is how many conversions do not tell their own spread: with four or less
// the Type A estimate is wrong by a third or more (JCGM 100:2008, table E.1).
const few = 5

// spread is the standard uncertainty of the mean with its degrees of freedom:
// Type A (JCGM 100:2008, 4.2.3), for a few conversions from the noise that the
// wiring states.
func (s *stats) spread() (std, dof float64) {
	n := float64(s.n)
	if s.n < few {
		return s.conversion / math.Sqrt(n), 0
	}
	return math.Sqrt(s.m2 / (n - 1) / n), n - 1
}

// measured forms the value of a mean. tag tells this reading's own causes from
// those of every other reading.
func (b *budget) measured(s *stats, tag string) quantity.Measured {
	return b.mean(nil, s, tag+" step", tag+" repeatability")
}

// mean forms the value of a mean with what it is wrong by appended to parts. Step
// and spread are its own causes, more are what comes on top. No cause stands twice:
// the wiring gives every part one place.
func (b *budget) mean(parts []quantity.Contribution, s *stats, step, spread string, more ...quantity.Contribution) quantity.Measured {
	v := b.value(s.mean)
	parts = slices.Grow(parts, len(b.relatives)+len(b.standing)+3+len(more))
	for _, c := range b.relatives {
		parts = append(parts, quantity.Uniform(c.source, c.half, c.sens*v))
	}
	if b.correction == nil {
		parts = append(parts, quantity.Uniform(b.offsetOf, b.offset, b.factor))
	}
	parts = b.stands(parts, v)
	parts = append(parts, quantity.Resolution(step, s.step, b.factor))
	std, dof := s.spread()
	own := quantity.Normal(spread, std, b.factor, dof)
	if dof > 0 {
		own.Dist = "t"
	}
	parts = append(append(parts, own), more...)
	m := quantity.Measured{Quantity: quantity.Quantity{SI: v, Dim: b.dim}, Parts: parts}
	switch {
	case s.high:
		m.Bound = quantity.AtLeast
	case s.low:
		m.Bound = quantity.AtMost
	}
	if b.highest > 0 && v >= b.highest {
		m.SI, m.Bound = b.highest, quantity.AtLeast
	}
	return m
}

// floor is the smallest change of a value that means anything: its step or
// three times the noise of one conversion.
func (b *budget) floor(step float64) float64 {
	return math.Max(step, 3*b.noise) * math.Abs(b.factor)
}

// chipBudget begins a budget with the errors of the chip that converts.
func chipBudget(c *wiring.Chip, dim quantity.Dim) budget {
	return budget{dim: dim, factor: 1, offset: c.Offset.SI, offsetOf: c.Name + " offset", noise: c.Noise.SI,
		relatives: []relative{{c.Name + " gain", c.Gain.SI, 1}}}
}

// divided adds a divider in front of the converter: upper from the net to the
// input, lower from there to ground, with the input's own resistance beside it.
//
//	value = raw * (U + P) / P,  P = L*Z/(L+Z)
func (b *budget) divided(upper, lower *wiring.Part, c *wiring.Chip, input int) {
	u, l := upper.Value.Nominal.SI, lower.Value.Nominal.SI
	p, loaded := l, c.Loading.SI > 0
	if loaded {
		p = l * c.Loading.SI / (l + c.Loading.SI)
	}
	share := u / (u + p)
	b.factor *= (u + p) / p
	b.relatives = append(b.relatives,
		relative{tolerance(upper), upper.Value.Relative(), share},
		relative{tolerance(lower), lower.Value.Relative(), -share * p / l})
	if loaded {
		b.relatives = append(b.relatives, relative{loading(c, input), loadingDoubt, -share * p / c.Loading.SI})
	}
}

// shunted turns a shunt's voltage into its current.
func (b *budget) shunted(shunt *wiring.Part) {
	b.factor /= shunt.Value.Nominal.SI
	b.relatives = append(b.relatives, relative{tolerance(shunt), shunt.Value.Relative(), -1})
}

// tolerance and loading name causes that several channels share.
func tolerance(p *wiring.Part) string { return p.Name + " tolerance" }

func loading(c *wiring.Chip, input int) string { return fmt.Sprintf("%s in%d loading", c.Name, input) }
