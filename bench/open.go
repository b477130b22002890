package bench

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/chip/expander16"
	"sinkproof/bench/chip/powermon"
	"sinkproof/bench/chip/thermometer"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// armWait is how long the coil supply may take to come up after the arm pulse:
// 50 ms. Own choice.
const armWait = 50 * time.Millisecond

// Open writes every coil register off and reads it back, identifies the other
// chips and sets the alert limits, then gives the arm pulse and ends in
// isolated, confirmed by measuring. On an error the rig is left with its coils
// off and without a heartbeat.
//
// A VBUS that a unit holds up is no reason to refuse: the observer is told,
// and whoever reads vbus sees it.
func Open(ctx context.Context, w *wiring.Rig, hw Hardware, o Options) (*Rig, error) {
	r := &Rig{wiring: w, observer: o.Observer, limits: o, passed: map[string]bool{}}
	r.guard = &guard{clock: hw.Clock, heart: hw.ownHeart(), drop: r.drop, notice: r.notice, quiet: true, looked: -lookEvery}
	if err := r.open(ctx, hw); err != nil {
		r.abandon()
		return nil, fmt.Errorf("open rig %s: %w", w.Name, err)
	}
	return r, nil
}

// Secure makes an idle rig safe: it claims the lines, writes every coil
// register off and reads it back, identifies the other chips and confirms by
// measuring that VBUS is off. It gives no heartbeat and no arm pulse, so that
// no contact can close. What a program that was killed has left in the coil
// registers is gone afterwards.
//
// A VBUS that is up although every coil is proven off comes back as a *Fault
// that wraps ErrHeld: a unit feeds it, or contacts are welded.
func Secure(ctx context.Context, w *wiring.Rig, hw Hardware) error {
	r := &Rig{wiring: w, passed: map[string]bool{}}
	r.guard = &guard{clock: hw.Clock, heart: hw.ownHeart(), drop: r.drop, notice: r.notice, quiet: true}
	err := r.prepare(ctx, hw)
	if err != nil {
		r.abandon()
	} else {
		err = r.Close()
	}
	if err != nil {
		return fmt.Errorf("secure rig %s: %w", w.Name, err)
	}
	return nil
}

func (r *Rig) open(ctx context.Context, hw Hardware) error {
	if err := r.prepare(ctx, hw); err != nil {
		return err
	}
	r.guard.look()
	if r.guard.err != nil {
		return r.guard.err
	}
	if err := r.arm(ctx); err != nil {
		return err
	}
	if err := r.Safe(); err != nil && !errors.Is(err, ErrHeld) {
		return err
	}
	r.guard.watch = r.watchTemperature
	r.guard.quiet = false
	_, err := r.guard.serve(r.Now())
	return err
}

// prepare takes a rig over up to the point where it could be armed: every coil
// register is off and read back, every other chip is known.
func (r *Rig) prepare(ctx context.Context, hw Hardware) error {
	if err := r.plan(); err != nil {
		return refuse("read the wiring", r.wiring.Name, "Check the wiring file.", err)
	}
	buses, err := r.buses(hw)
	if err != nil {
		return err
	}
	if err := r.lines(hw); err != nil {
		return err
	}
	if err := r.takeCoils(buses); err != nil {
		return err
	}
	if err := r.identify(ctx, buses); err != nil {
		return err
	}
	if err := r.compile(); err != nil {
		return refuse("read the channels", r.wiring.Name, "Check the wiring file.", err)
	}
	return nil
}

// abandon leaves a rig that could not be opened without heartbeat and, where
// expanders answer, with its coils off. Where one does not, and other nests keep the
// heart beating, only its end can take coils off that may still have power.
func (r *Rig) abandon() {
	g := r.guard
	g.leave()
	g.quiet, r.closed = true, true
	if r.bank == nil {
		return
	}
	if errs := r.bank.off(); (len(errs) > 0 || r.unproven != nil) && g.heart.beating && (g.supply == nil || g.supplied()) {
		g.heart.stop(&Fault{What: "prove the coils off", Thing: r.wiring.Nest.Name,
			Hint: "Mend the nest; the others can go on when they are opened again.", Err: errors.Join(append(errs, r.unproven)...)})
	}
}

// plan resolves what the wiring alone decides.
func (r *Rig) plan() error {
	var err error
	if r.bank, err = outputs(r.wiring); err != nil {
		return err
	}
	if r.isolated, err = r.wiring.Expand(wiring.Setting{Condition: Isolated}); err != nil {
		return err
	}
	if len(r.isolated.On)+len(r.isolated.Feed) > 0 {
		return fmt.Errorf("condition %s turns %v on, and must turn nothing on", Isolated, r.isolated.On)
	}
	r.state = r.isolated
	g := r.wiring.Guard
	r.guard.heart.gap = seconds(g.BeatGap.SI)
	r.guard.heart.period = r.guard.heart.gap / beatsPerGap
	if r.guard.heart.period <= 0 {
		return fmt.Errorf("guard: heartbeat gap %s is no time", g.BeatGap)
	}
	return nil
}

// buses wraps what the computer offers, so that every transfer serves the
// guard.
func (r *Rig) buses(hw Hardware) (map[string]i2c.Bus, error) {
	out := map[string]i2c.Bus{}
	for _, b := range r.wiring.Buses {
		bus, ok := hw.Buses[b.Name]
		if !ok {
			return nil, refuse("find the bus", b.Name, "Enable the bus on this computer, or correct the device in the wiring file.",
				fmt.Errorf("device %q: %w", b.Device, wiring.ErrUnknown))
		}
		out[b.Name] = &served{bus: bus, guard: r.guard}
	}
	return out, nil
}

// lines finds the lines and sets their directions. Heartbeat and arm pulse
// start at rest.
func (r *Rig) lines(hw Hardware) error {
	for i := range r.wiring.Lines {
		l := &r.wiring.Lines[i]
		pin, ok := hw.Lines[l.Name]
		if !ok {
			return refuse("find the line", l.Name, "Correct the line's device in the wiring file.",
				fmt.Errorf("device %q: %w", l.Device, wiring.ErrUnknown))
		}
		if err := r.line(l, newLine(l.Name, pin, l.ActiveLow)); err != nil {
			return &Fault{What: "set the line up", Thing: l.Name, Hint: "Check that no other program holds the line.", Err: err}
		}
	}
	if r.guard.heart.line.pin == nil || r.guard.armLine.pin == nil {
		return refuse("find the safety chain", r.wiring.Name, "Name a heartbeat and an arm line in the wiring file.", ErrLine)
	}
	return nil
}

func (r *Rig) line(l *wiring.Line, in line) error {
	switch l.Use {
	case wiring.Heartbeat:
		if r.guard.heart.line.pin != nil {
			return nil // it beats for another nest
		}
		r.guard.heart.line = in
		return in.set(false)
	case wiring.Arm:
		r.guard.armLine = in
		return in.set(false)
	}
	if err := in.pin.In(gpio.PullNoChange, gpio.NoEdge); err != nil {
		return fmt.Errorf("%w: set %s as input: %w", ErrLine, l.Name, err)
	}
	switch l.Use {
	case wiring.CoilSupply:
		r.guard.supply = &in
	case wiring.Alert:
		r.guard.inputs = append(r.guard.inputs, r.alert(l, in))
	default:
		if w, ok := inputFor(l, in); ok {
			r.guard.inputs = append(r.guard.inputs, w)
		}
	}
	return nil
}

// alert is the interlock of a monitor's alert pin: the monitor that serves the
// default range of a current channel watches the current, every other one the
// bus voltage.
func (r *Rig) alert(l *wiring.Line, in line) watched {
	if r.watchesCurrent(l.Chip) {
		return watched{in, Interlock{Kind: OverCurrent, Thing: l.Chip, Limit: r.limits.Current,
			Hint: "Take the unit out and look for a short or a wrong charge current."}}
	}
	return watched{in, Interlock{Kind: OverVoltage, Thing: l.Chip, Limit: r.wiring.Guard.OverVoltage,
		Hint: "Measure the supplies of the rig before you go on."}}
}

func (r *Rig) watchesCurrent(chip string) bool {
	for i := range r.wiring.Channels {
		if c := &r.wiring.Channels[i]; c.Kind == wiring.CurrentChannel && len(c.Ranges) > 0 && c.Ranges[0].Chip == chip {
			return true
		}
	}
	return false
}

// takeCoils writes every expander off and reads it back. It tries them all
// before it gives up on one.
func (r *Rig) takeCoils(buses map[string]i2c.Bus) error {
	var errs []error
	all := r.bank.all()
	for i, name := range r.bank.names {
		c, _ := r.wiring.Chip(name)
		o := expander16.DefaultOpts()
		o.Addr, o.Outputs = c.Address, all[i]
		d, err := expander16.New(buses[c.Bus], o)
		if err != nil {
			errs = append(errs, chipFault("take over the coils", name, err))
		}
		r.bank.devs = append(r.bank.devs, d)
	}
	r.unproven = errors.Join(errs...)
	return r.unproven
}

// identify opens every other chip and arms the alerts.
func (r *Rig) identify(ctx context.Context, buses map[string]i2c.Bus) error {
	for i := range r.wiring.Chips {
		c := &r.wiring.Chips[i]
		var err error
		switch c.Kind {
		case wiring.ADC:
			err = r.addConverter(ctx, c, buses[c.Bus])
		case wiring.PowerMon:
			err = r.addMeter(c, buses[c.Bus])
		case wiring.Thermometer:
			err = r.addThermometer(c, buses[c.Bus])
		}
		if err == nil {
			err = r.guard.clock.Sleep(ctx, breath)
		}
		if err != nil {
			return chipFault("identify the chip", c.Name, err)
		}
	}
	return nil
}

// breath is a pause between two chips: another nest on the same computer, whose
// heartbeat must go on, gets its turn. Own choice: the time of one transfer.
const breath = 100 * time.Microsecond

func (r *Rig) addConverter(ctx context.Context, c *wiring.Chip, b i2c.Bus) error {
	dev, err := adc16x4.New(ctx, b, r.guard, adc16x4.Opts{Addr: c.Address, Rate: adc16x4.SPS860})
	if err == nil {
		r.converters = append(r.converters, &converter{dev: dev, spec: c})
	}
	return err
}

func (r *Rig) addMeter(c *wiring.Chip, b i2c.Bus) error {
	shunt, ok := r.wiring.Part(c.Shunt)
	if !ok {
		return fmt.Errorf("shunt %q: %w", c.Shunt, wiring.ErrUnknown)
	}
	o := powermon.DefaultOpts()
	o.Addr, o.Shunt = c.Address, shunt.Value.Nominal
	o.CurrentLSB = quantity.Amperes(meterStep / shunt.Value.Nominal.SI)
	o.Average, o.BusTime, o.ShuntTime = meterAverage, meterTime, meterTime
	o.Alert = r.alertPin(c.Name)
	dev, err := powermon.New(b, r.guard, o)
	if err != nil {
		return err
	}
	m := &meter{dev: dev, spec: c, shunt: shunt}
	if err := r.watchBy(m); err != nil {
		return err
	}
	r.meters = append(r.meters, m)
	return dev.Start()
}

// watchBy arms the alert of a monitor. A ceiling that its shunt register cannot
// hold is not armed: what flows then is bounded by the supply's own limit, and
// a reading at the end of its range is an answer about the unit.
func (r *Rig) watchBy(m *meter) error {
	if !r.watchesCurrent(m.spec.Name) {
		_, err := m.dev.ArmOverVoltage(r.wiring.Guard.OverVoltage, true)
		return err
	}
	ceiling := r.limits.Current
	if ceiling.SI <= 0 || ceiling.SI >= meterStep*meterCodes/m.shunt.Value.Nominal.SI {
		return nil
	}
	_, err := m.dev.ArmOverCurrent(ceiling, true)
	return err
}

// alertPin is the line at a chip's alert pin, nil where none is wired.
func (r *Rig) alertPin(chip string) gpio.PinIn {
	for i := range r.guard.inputs {
		if w := &r.guard.inputs[i]; w.trip.Thing == chip && w.low {
			return w.pin
		}
	}
	return nil
}

func (r *Rig) addThermometer(c *wiring.Chip, b i2c.Bus) error {
	o := thermometer.DefaultOpts()
	o.Addr = c.Address
	dev, err := thermometer.New(b, r.guard, o)
	if err == nil {
		r.thermometers = append(r.thermometers, &sensor{dev: dev, spec: c})
	}
	return err
}

// arm starts the heartbeat and gives the pulse that restores the coil supply.
// Every coil register has been written off and read back by now, and this is
// the only place that gives the pulse.
func (r *Rig) arm(ctx context.Context) error {
	g := r.guard
	// A heart that ended for the sake of a nest must stay away until the monostable
	// has seen it.
	if h := g.heart; !h.beating && h.ends > 0 {
		if err := g.Sleep(ctx, h.last+h.gap+dropped-g.Now()); err != nil {
			return err
		}
	}
	if err := g.start(); err != nil {
		return err
	}
	if err := g.armLine.set(true); err != nil {
		return &Fault{What: "give the arm pulse", Thing: g.armLine.name, Hint: "Check the line of the computer.", Err: err}
	}
	pulse := g.Sleep(ctx, 2*seconds(r.wiring.Guard.ArmPulse.SI)) // twice the shortest, to be sure
	if err := errors.Join(pulse, g.armLine.set(false)); err != nil {
		return &Fault{What: "give the arm pulse", Thing: g.armLine.name, Hint: "Check the line of the computer.", Err: err}
	}
	for end := g.Now() + armWait; g.supply != nil && !g.supplied(); {
		if g.Now() >= end {
			return &Fault{What: "arm the coils", Thing: g.supply.name,
				Hint: "Look for an open lid, a stop button or a blown fuse of the coil supply.", Err: ErrCoilSupply}
		}
		if err := g.Sleep(ctx, time.Millisecond); err != nil {
			return err
		}
	}
	g.armed = true
	r.notice("armed", nil)
	return g.err
}
