package bench

import (
	"fmt"
	"math"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// Expectation is what a reading of a channel will be uncertain by, known from
// the wiring and the calibration before anything is measured.
type Expectation struct {
	Channel string
	// Variant is the range or the pull-up that the reading is taken with;
	// empty where the channel has only one way.
	Variant string
	// Value carries the contributions that a reading of this value has.
	Value quantity.Measured
	// Conversions is how many a reading averages.
	Conversions int
}

// Expect returns the expectations of a channel at a value, one for each of its
// ranges or pull-ups. The repeatability is what the noise in the wiring gives
// for the conversions of one reading. A value that a range cannot hold gives a
// bound. cal is nil for none. It wraps wiring.ErrUnknown for a channel that the
// rig does not have, and a *quantity.DimError for a value of another dimension.
func Expect(w *wiring.Rig, cal *Calibration, name string, at quantity.Quantity) ([]Expectation, error) {
	r, err := paper(w, cal)
	if err != nil {
		return nil, fmt.Errorf("expect %s of %s: %w", name, w.Name, err)
	}
	c, err := r.channel(name)
	if err != nil {
		return nil, fmt.Errorf("expect %s of %s: %w", name, w.Name, err)
	}
	if at.Dim != c.dim {
		return nil, fmt.Errorf("expect %s of %s: %w", name, w.Name, &quantity.DimError{Op: "expect", Left: c.dim, Right: at.Dim})
	}
	list, err := r.expect(c, at.SI)
	if err != nil {
		return nil, fmt.Errorf("expect %s of %s at %s: %w", name, w.Name, at, err)
	}
	return list, nil
}

// paper is a rig without hardware: what the wiring alone says of its channels.
func paper(w *wiring.Rig, cal *Calibration) (*Rig, error) {
	r := &Rig{wiring: w, limits: Options{Calibration: cal}}
	var err error
	if r.bank, err = outputs(w); err != nil {
		return nil, err
	}
	for i := range w.Chips {
		c := &w.Chips[i]
		switch c.Kind {
		case wiring.ADC:
			r.converters = append(r.converters, &converter{spec: c})
		case wiring.PowerMon:
			shunt, ok := w.Part(c.Shunt)
			if !ok {
				return nil, fmt.Errorf("chip %s: shunt %q: %w", c.Name, c.Shunt, wiring.ErrUnknown)
			}
			r.meters = append(r.meters, &meter{spec: c, shunt: shunt})
		case wiring.Thermometer:
			r.thermometers = append(r.thermometers, &sensor{spec: c})
		}
	}
	return r, r.compile()
}

func (r *Rig) expect(c *channel, at float64) ([]Expectation, error) {
	switch {
	case c.volts != nil:
		return r.expectTermination(c, at)
	case c.adc != nil:
		return []Expectation{r.expectVoltage(c, at, c.rangeFor(at))}, nil
	case c.thermo != nil:
		s := c.budget.typical(at, thermoStep, 1)
		return []Expectation{{Channel: c.spec.Name, Value: c.budget.measured(&s, c.spec.Name), Conversions: 1}}, nil
	}
	list := make([]Expectation, 0, len(c.ranges))
	for i := range c.ranges {
		g := &c.ranges[i]
		s := g.budget.typical(at, meterStep, 1)
		// One result of the monitor is the mean of its own averages.
		s.conversion /= math.Sqrt(float64(meterAverage.Count()))
		if end := meterStep * (meterCodes + 1); math.Abs(s.mean) >= end {
			s.mean, s.high, s.low = math.Copysign(end, s.mean), s.mean > 0, s.mean < 0
		}
		list = append(list, Expectation{Channel: c.spec.Name, Variant: g.name,
			Value: g.budget.measured(&s, c.spec.Name), Conversions: meterAverage.Count()})
	}
	return list, nil
}

// typical are the sums of n conversions of a value with just the noise that the
// wiring states.
func (b *budget) typical(value, step float64, n int) stats {
	s := stats{n: n, mean: b.raw(value), step: step, conversion: b.noise}
	s.m2 = b.noise * b.noise * float64(n-1)
	return s
}

func (r *Rig) expectVoltage(c *channel, at float64, rng adc16x4.Range) Expectation {
	n := 1
	if w := r.window(c, ReadOptions{}); w > 0 {
		n = max(1, int(w/averaging.Period()))
	}
	s := c.budget.typical(at, rng.LSB().SI, n)
	if end := rng.FullScale().SI; math.Abs(s.mean) >= end {
		s.mean, s.high, s.low = math.Copysign(end, s.mean), s.mean > 0, s.mean < 0
	}
	return Expectation{Channel: c.spec.Name, Value: c.budget.measured(&s, c.spec.Name), Conversions: n}
}

// expectTermination takes the rail at its nominal value and the pin where a
// resistance brings it.
func (r *Rig) expectTermination(c *channel, ohms float64) ([]Expectation, error) {
	rail, err := r.railVolts(c)
	if err != nil {
		return nil, err
	}
	var list []Expectation
	for _, p := range c.pulls {
		up := p.part.Value.Nominal
		pin := rail / (1 + up.SI*(1/ohms+c.load.SI))
		rng := c.rail.rangeFor(rail)
		whole, part := r.expectVoltage(c.rail, rail, rng), r.expectVoltage(c.volts, pin, rng)
		m, err := resistance(part.Value, whole.Value, p.value, c.load)
		if err != nil {
			return nil, fmt.Errorf("pull-up %s: %w", p.part.Name, err)
		}
		list = append(list, Expectation{Channel: c.spec.Name, Variant: p.part.Name, Value: m, Conversions: part.Conversions})
	}
	return list, nil
}

// railVolts is the nominal voltage of the supply that a termination is pulled
// up to.
func (r *Rig) railVolts(c *channel) (float64, error) {
	for i := range r.wiring.Supplies {
		if s := &r.wiring.Supplies[i]; s.Vbus == c.rail.spec.Net {
			return s.Volts.Nominal.SI, nil
		}
	}
	return 0, fmt.Errorf("no supply drives %s: %w", c.rail.spec.Net, wiring.ErrUnknown)
}
