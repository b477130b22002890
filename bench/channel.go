package bench

import (
	"errors"
	"fmt"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/chip/powermon"
	"sinkproof/bench/chip/thermometer"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// What the monitors are set to: sixteen conversions of 588 µs each of shunt
// and bus, 18.8 ms for a result. That averages over about one period of either
// mains frequency and lets a limit trip within two results. Own choice.
const (
	meterAverage = powermon.Average16
	meterTime    = powermon.Time588us
	meterStep    = 2.5e-6 // volts, TI INA226 data sheet SBOS547, shunt LSB
	meterCodes   = 32766  // the highest code that something can exceed
)

// thermoStep is the step of a twelve-bit sensor, 0.0625 K (TI TMP75 data sheet
// SBOS288M, table 7-1).
const thermoStep = 0.0625

// The chips with what the wiring says of them.
type (
	converter struct {
		dev  *adc16x4.Dev
		spec *wiring.Chip
	}
	meter struct {
		dev   *powermon.Dev
		spec  *wiring.Chip
		shunt *wiring.Part
	}
	sensor struct {
		dev  *thermometer.Dev
		spec *wiring.Chip
	}
)

// channel is a channel of the wiring with the chips that serve it.
type channel struct {
	spec *wiring.Channel
	dim  quantity.Dim
	// onVbus: what it reads is VBUS, which the guard bounds.
	onVbus bool
	// A reading above the ceiling trips an interlock; 0 is none.
	ceiling quantity.Quantity
	trips   InterlockKind

	adc    *converter
	input  adc16x4.Input
	thermo *sensor
	ranges []meterRange
	budget budget
	offset float64 // half-width of the converter's offset, for choosing a range

	volts, rail *channel // of a termination
	pulls       []pull
	load        quantity.Measured // conductance beside the unknown one

	// last is the last raw reading; it was taken after the coil write at
	// lastIn, which tells whether it still says anything.
	last   float64
	lastIn span
	known  bool
}

// meterRange is one range of a current channel.
type meterRange struct {
	name   string
	meter  *meter
	relay  pattern // empty: always
	off    bool
	budget budget
}

// pull is a pull-up that a termination may be measured with.
type pull struct {
	part  *wiring.Part
	relay pattern
	value quantity.Measured
}

// compile binds the channels to the chips and computes their budgets.
func (r *Rig) compile() error {
	var errs []error
	if err := r.limits.Calibration.fits(r.wiring); err != nil {
		return err
	}
	sense := r.wiring.Nest.PinNet(wiring.PinVbusSense)
	for i := range r.wiring.Channels {
		c := &channel{spec: &r.wiring.Channels[i]}
		if err := r.bind(c); err != nil {
			errs = append(errs, fmt.Errorf("channel %s: %w", c.spec.Name, err))
			continue
		}
		c.onVbus = c.spec.Kind == wiring.VoltageChannel && c.spec.Net == sense
		if c.onVbus && r.vbus == nil {
			r.vbus = c
		}
		r.bound(c)
		r.channels = append(r.channels, c)
	}
	if r.vbus == nil {
		errs = append(errs, fmt.Errorf("no voltage channel reads %s at pin %s, which the safe state is confirmed with",
			sense, wiring.PinVbusSense))
	}
	for _, c := range r.channels {
		if c.spec.Kind == wiring.TerminationChannel {
			errs = append(errs, r.bindTermination(c))
		}
	}
	return errors.Join(errs...)
}

func (r *Rig) bind(c *channel) error {
	switch c.spec.Kind {
	case wiring.VoltageChannel, wiring.LightChannel:
		c.dim = quantity.Voltage
		return r.bindVoltage(c)
	case wiring.CurrentChannel:
		c.dim = quantity.Current
		return r.bindCurrent(c)
	case wiring.TemperatureChannel:
		c.dim = quantity.Temperature
		return r.bindTemperature(c)
	case wiring.TerminationChannel:
		c.dim = quantity.Resistance
		return nil
	}
	return fmt.Errorf("kind %q: %w", c.spec.Kind, wiring.ErrUnknown)
}

func (r *Rig) bindVoltage(c *channel) error {
	for _, a := range r.converters {
		if a.spec.Name == c.spec.Chip {
			c.adc = a
		}
	}
	if c.adc == nil || c.spec.Input < 0 || c.spec.Input > 3 {
		return fmt.Errorf("input %d of converter %q: %w", c.spec.Input, c.spec.Chip, wiring.ErrUnknown)
	}
	c.input = adc16x4.Input(c.spec.Input)
	c.budget = chipBudget(c.adc.spec, c.dim)
	c.budget.highest, c.offset = c.spec.Highest.SI, c.adc.spec.Offset.SI
	if c.spec.Upper != "" {
		if err := r.bindDivider(c); err != nil {
			return err
		}
	}
	r.correct(&c.budget, c.spec.Name, "")
	return nil
}

func (r *Rig) bindDivider(c *channel) error {
	upper, ok := r.wiring.Part(c.spec.Upper)
	lower, also := r.wiring.Part(c.spec.Lower)
	if !ok || !also {
		return fmt.Errorf("divider %q over %q: %w", c.spec.Upper, c.spec.Lower, wiring.ErrUnknown)
	}
	c.budget.divided(upper, lower, c.adc.spec, c.spec.Input)
	return nil
}

func (r *Rig) bindCurrent(c *channel) error {
	for i := range c.spec.Ranges {
		spec := &c.spec.Ranges[i]
		g := meterRange{name: spec.Name, off: spec.Off}
		for _, m := range r.meters {
			if m.spec.Name == spec.Chip {
				g.meter = m
			}
		}
		if g.meter == nil {
			return fmt.Errorf("range %s: monitor %q: %w", spec.Name, spec.Chip, wiring.ErrUnknown)
		}
		if spec.Relay != "" {
			var ok bool
			if g.relay, ok = r.bank.find(spec.Relay); !ok {
				return fmt.Errorf("range %s: relay %q: %w", spec.Name, spec.Relay, wiring.ErrUnknown)
			}
		}
		g.budget = chipBudget(g.meter.spec, c.dim)
		g.budget.shunted(g.meter.shunt)
		g.budget.highest = c.spec.Highest.SI
		r.correct(&g.budget, c.spec.Name, g.name)
		c.ranges = append(c.ranges, g)
	}
	if len(c.ranges) == 0 {
		return errors.New("a current channel without a range")
	}
	return nil
}

func (r *Rig) bindTemperature(c *channel) error {
	for _, t := range r.thermometers {
		if t.spec.Name == c.spec.Chip {
			c.thermo = t
		}
	}
	if c.thermo == nil {
		return fmt.Errorf("thermometer %q: %w", c.spec.Chip, wiring.ErrUnknown)
	}
	c.budget = chipBudget(c.thermo.spec, c.dim)
	c.budget.relatives = nil // the error of a sensor is stated in kelvin
	r.correct(&c.budget, c.spec.Name, "")
	return nil
}

// correct applies the calibration, where it has something on a channel.
func (r *Rig) correct(b *budget, channel, rng string) {
	if k := r.limits.Calibration.correction(channel, rng); k != nil {
		b.corrected(k)
	}
}

// channel finds a channel by name.
func (r *Rig) channel(name string) (*channel, error) {
	for _, c := range r.channels {
		if c.spec.Name == name {
			return c, nil
		}
	}
	return nil, refuse("find the channel", name, "Name a channel of the wiring file.", wiring.ErrUnknown)
}

// rangeNow is the range of a current channel that holds in the state that the
// relays are in.
func (r *Rig) rangeNow(c *channel) (*meterRange, error) {
	for i := range c.ranges {
		g := &c.ranges[i]
		on := !g.relay.and(r.bank.now).empty()
		if g.relay.empty() || on != g.off {
			return g, nil
		}
	}
	return nil, refuse("choose the range", c.spec.Name, "Enter a setting that chooses a range.",
		fmt.Errorf("no range holds in %s", r.state.Setting))
}

// ranges of the converter, the narrowest first.
var converterRanges = [...]adc16x4.Range{
	adc16x4.FS0256, adc16x4.FS0512, adc16x4.FS1024, adc16x4.FS2048, adc16x4.FS4096, adc16x4.FS6144,
}
