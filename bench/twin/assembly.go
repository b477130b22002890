package twin

import (
	"fmt"
	"math"
	"time"

	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench/twin/chips"
	"sinkproof/bench/wiring"
)

// chipSupply is the voltage that the converters of a bench run on; no input
// converts beyond it.
const chipSupply = 5.0

// Limits of a power monitor and of a converter that no wiring file states:
// offset of the bus input (TI INA226 data sheet SBOS547, electrical
// characteristics) and integral non-linearity in steps (TI ADS1115L data sheet
// SBASAV5, electrical characteristics: 1 at most).
const (
	monitorBusOffset = 7.5e-3
	converterBow     = 0.5
)

// ambient is the temperature around the rig in °C.
const ambient = 23.0

// wireBuses makes the buses with their chips.
func (t *Twin) wireBuses() error {
	for _, w := range t.config.Wiring.Buses {
		if !(w.Frequency.SI > 0) {
			return fmt.Errorf("bus %s: frequency %v: %w", w.Name, w.Frequency, ErrConfig)
		}
		t.buses = append(t.buses, newBus(t, w.Name, w.Frequency.SI))
	}
	for i := range t.config.Wiring.Chips {
		w := &t.config.Wiring.Chips[i]
		b := t.bus(w.Bus)
		if b == nil || w.Address >= addresses {
			return fmt.Errorf("chip %s at %#02x on bus %s: %w", w.Name, w.Address, w.Bus, ErrConfig)
		}
		c := &chip{t: t, name: w.Name, device: t.newDevice(w)}
		t.chips = append(t.chips, c)
		b.chips[w.Address] = append(b.chips[w.Address], c)
	}
	return nil
}

// bus finds a bus by its name.
func (t *Twin) bus(name string) *bus {
	for _, b := range t.buses {
		if b.name == name {
			return b
		}
	}
	return nil
}

// newDevice makes one piece of a chip with errors drawn within its limits.
func (t *Twin) newDevice(w *wiring.Chip) chips.Device {
	piece := stream(t.config.Seed, "chip", w.Name)
	gain, offset := spread(piece, w.Gain.SI), spread(piece, w.Offset.SI)
	oscillator, noise := spread(piece, w.Oscillator.SI), stream(t.config.Seed, "chip noise", w.Name)
	switch w.Kind {
	case wiring.ADC:
		o := chips.ADCOptions{
			Supply: chipSupply, Gain: gain, Offset: offset, Noise: w.Noise.SI,
			Oscillator: oscillator, Bow: spread(piece, converterBow), Rand: noise,
		}
		for i := 0; i < len(o.Inputs) && i < len(w.Inputs); i++ {
			o.Inputs[i] = t.probe(w.Inputs[i])
		}
		o.Reach = t.bring
		adc := chips.NewADC(o)
		t.samplers = append(t.samplers, adc)
		t.adcs[w.Name] = adc
		return adc
	case wiring.PowerMon:
		return t.newMonitor(w, chips.MonitorOptions{
			Gain: gain, Offset: offset, Noise: w.Noise.SI, Oscillator: oscillator,
			BusOffset: spread(piece, monitorBusOffset), Rand: noise,
			Plus: t.probe(w.Plus), Minus: t.probe(w.Minus), Sense: t.probe(w.Sense),
		})
	case wiring.Thermometer:
		return chips.NewThermometer(chips.ThermometerOptions{
			Celsius: t.warmth, Offset: offset, Noise: w.Noise.SI,
			Oscillator: oscillator, Rand: noise, Start: t.now,
		})
	}
	return chips.NewExpander(t.outputs(w))
}

func (t *Twin) newMonitor(w *wiring.Chip, o chips.MonitorOptions) chips.Device {
	o.Reach = t.bring
	m := chips.NewMonitor(o, t.now)
	t.samplers = append(t.samplers, m)
	return m
}

// probe returns the chips' view of a net; nil for none.
func (t *Twin) probe(net string) chips.Probe {
	if net == "" {
		return nil
	}
	p := t.probes[net]
	if p == nil {
		p = &probe{t: t, net: net}
		t.probes[net] = p
	}
	return p
}

// warmth is the temperature at the nest: the room with its slow swing.
func (t *Twin) warmth(now time.Duration) float64 {
	return ambient + 0.2*math.Sin(2*math.Pi*now.Minutes()/20)
}

// outputs returns what follows the pins of an expander: the relays and selects
// on it.
func (t *Twin) outputs(w *wiring.Chip) func(now time.Duration, high uint16) {
	relays, selects := [16]*relay{}, [16]string{}
	for _, k := range t.relays {
		if k.w.Coil.Chip == w.Name && k.w.Coil.Bit < 16 {
			relays[k.w.Coil.Bit] = k
		}
	}
	for _, s := range t.config.Wiring.Selects {
		if s.Pin.Chip == w.Name && s.Pin.Bit < 16 {
			selects[s.Pin.Bit] = s.Name
		}
	}
	var before uint16
	return func(now time.Duration, high uint16) {
		for bit := range 16 {
			if (before^high)>>bit&1 == 0 {
				continue
			}
			on := high>>bit&1 == 1
			if k := relays[bit]; k != nil {
				k.want(now, on)
			}
			t.choose(now, selects[bit], on)
		}
		before = high
	}
}

// choose passes a select on to the supplies that listen to it.
func (t *Twin) choose(now time.Duration, name string, on bool) {
	if name == "" || t.selects[name] {
		return
	}
	for _, s := range t.supplies {
		if p := s.plain(); p.listens(name) {
			p.follow(name, on)
			p.selected(now)
		}
	}
}

// wireLines makes the digital lines.
func (t *Twin) wireLines() error {
	for _, w := range t.config.Wiring.Lines {
		l := &line{t: t, name: w.Name, use: useOf(w.Use), activeLow: w.ActiveLow}
		l.follows = t.coils.state(l.use)
		l.driven = gpio.Level(w.ActiveLow) // idle
		if w.Use == wiring.Alert {
			if l.alarm = t.alarm(w.Chip); l.alarm == nil {
				return fmt.Errorf("line %s: chip %q has no alert pin: %w", w.Name, w.Chip, ErrConfig)
			}
		}
		t.lines = append(t.lines, l)
	}
	return nil
}

// alarm finds the chip of an alert line.
func (t *Twin) alarm(name string) chips.Alarm {
	for _, c := range t.chips {
		if a, ok := c.device.(chips.Alarm); ok && c.name == name {
			return a
		}
	}
	return nil
}
