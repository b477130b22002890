package twin

import (
	"fmt"
	"math/rand/v2"

	"sinkproof/bench/circuit"
	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// Parts of every board that no product file states.
const (
	// boardOutput is the capacitor at the charger's cell side, ±20 %: common
	// practice of the data sheets' application circuits.
	boardOutput = 4.7e-6
	// boardDrain is what the rest of a board takes from its cell.
	boardDrain = 4.7e6
	// leakLeast and leakMost bound the leakage of a CC pin's protection and
	// flux: common practice, far above zOPEN.
	leakLeast, leakMost = 10e6, 100e6
	// trickleHysteresis of the charger's precondition threshold: common
	// practice.
	trickleHysteresis = 0.1
	// regulationOhms is the slope of the charger's constant voltage.
	regulationOhms = 0.02
	// softSteps is in how many steps the charge current comes.
	softSteps = 5
)

// board is one unit as drawn: its values, faults included.
type board struct {
	product *product.Product
	serial  string
	faults  map[string]float64 // severities by name

	rd     [2]float64 // each pin's own termination
	shared float64    // resistance that joins the pins; zero for none
	bridge float64    // a bridge between the pins
	toVbus [2]float64
	toGnd  [2]float64
	leak   [2]float64
	clamp  [2]float64
	toggle float64
	duty   float64

	farads float64
	load   float64
	short  float64 // VBUS to ground
	joint  float64 // added in series with the power contact

	charger circuit.ChargerParams
	asks    bool
	// cautious is the current of a charger that asks and was not answered.
	cautious float64
	output   float64
	reverse  float64 // the fault's path from cell to VBUS

	data [4]float64 // joints of dp1, dm1, dp2, dm2 where one is bad

	cellVolts, cellOhms float64

	light, lamp, blink float64
}

// unitStream returns the random numbers of a unit for one purpose.
func unitStream(seed uint64, serial, purpose string) *rand.Rand {
	return stream(seed, "unit", serial, purpose)
}

// drawBoard draws a good unit.
func drawBoard(seed uint64, p *product.Product, serial string) *board {
	d := drawer{seed: seed, serial: serial, product: p}
	b := &board{product: p, serial: serial, faults: map[string]float64{}}
	for i, pin := range []string{"cc1", "cc2"} {
		b.rd[i] = d.draw("rd "+pin, "terminations.rd", p.Terminations.Rd)
		b.leak[i] = between(unitStream(seed, serial, "leak "+pin), leakLeast, leakMost)
		b.clamp[i] = d.draw("clamp "+pin, "terminations.clamp", p.Terminations.Clamp)
	}
	b.toggle = d.draw("toggle", "terminations.toggle", p.Terminations.Toggle)
	b.duty = in(unitStream(seed, serial, "duty"), typec.DCSRCDRP())
	b.farads = d.draw("bulk", "port.capacitance", p.Port.Capacitance) + d.draw("residual", "port.residual", p.Port.Residual)
	b.load = d.draw("load", "port.load", p.Port.Load)
	b.output = boardOutput * (1 + spread(unitStream(seed, serial, "output"), 0.2))
	b.cellVolts = d.draw("cell", "cell.volts", p.Cell.Volts)
	b.cellOhms = max(leastOhms, d.draw("cell resistance", "cell.resistance", p.Cell.Resistance))
	b.light = d.draw("light", "indicator.light", p.Indicator.Light)
	b.lamp = d.draw("lamp", "indicator.current", p.Indicator.Current)
	b.blink = d.draw("blink", "indicator.blink", p.Indicator.Blink)
	b.drawCharger(d)
	return b
}

func (b *board) drawCharger(d drawer) {
	c := &b.product.Charger
	fast := d.draw("fast", "charger.fast_current", c.FastCurrent)
	start, stop := d.draw("start", "charger.lockout_start", c.LockoutStart), d.draw("stop", "charger.lockout_stop", c.LockoutStop)
	regulation := d.draw("regulation", "charger.regulation", c.Regulation)
	b.asks = c.AsksData
	b.charger = circuit.ChargerParams{
		StartVolts: start, StopVolts: min(stop, start-0.02),
		HeadroomStartVolts: c.Headroom.SI, HeadroomStopVolts: c.Headroom.SI / 3,
		TrickleAmperes:         fast * d.draw("trickle", "charger.trickle_ratio", c.TrickleRatio),
		TrickleVolts:           d.draw("threshold", "charger.trickle_threshold", c.TrickleThreshold),
		TrickleHysteresisVolts: trickleHysteresis,
		ChargeAmperes:          fast,
		RegulationVolts:        regulation,
		OutputOhms:             regulationOhms,
		DropoutOhms:            max(leastOhms, d.draw("dropout", "charger.dropout", c.Dropout)),
		TerminationAmperes:     fast * d.draw("end", "charger.end_ratio", c.EndRatio),
		RechargeVolts:          regulation * c.Recharge.SI,
		QuiescentAmperes:       d.draw("quiescent", "charger.quiescent", c.Quiescent),
		Disabled:               c.AsksData,
	}
	if soft := d.draw("soft start", "charger.soft_start", c.SoftStart); soft > 0 {
		b.charger.SoftStartSteps, b.charger.SoftStartSeconds = softSteps, soft
	}
	if leak := d.draw("reverse", "charger.reverse_leakage", c.ReverseLeakage); leak > 0 {
		b.charger.ReverseOhms = c.Regulation.Nominal.SI / leak
	}
	b.cautious = d.draw("unconfirmed", "charger.unconfirmed", c.Unconfirmed)
}

// unconfirmed is the charger with the current that it takes where it does not
// find a charging port.
func (b *board) unconfirmed() circuit.ChargerParams {
	p := b.charger
	p.ChargeAmperes = max(1e-6, min(p.ChargeAmperes, b.cautious))
	p.TrickleAmperes = min(p.TrickleAmperes, p.ChargeAmperes)
	p.TerminationAmperes = min(p.TerminationAmperes, p.ChargeAmperes/2)
	p.ReverseOhms = 0 // one such path is enough
	return p
}

// program scales the fast current with everything that hangs on it, as the
// programming resistor does.
func (b *board) program(factor float64) {
	b.charger.ChargeAmperes *= factor
	b.charger.TrickleAmperes *= factor
	b.charger.TerminationAmperes *= factor
}

// damage draws the severity of each fault and puts it into the board.
func (b *board) damage(seed uint64, faults []Fault) error {
	for _, f := range faults {
		d, err := describe(f.Name)
		if err != nil {
			return err
		}
		if !d.Applies(b.product) {
			return fmt.Errorf("fault %s in product %s: %w: %s", f.Name, b.product.Name, ErrNoSuchPart, d.Needs)
		}
		s := f.severity
		if !f.fixed {
			s = unitStream(seed, b.serial, "severity "+f.Name).Float64()
		}
		b.faults[f.Name] = s
		if err := b.inflict(f, s, unitStream(seed, b.serial, "place "+f.Name)); err != nil {
			return err
		}
	}
	return nil
}

// The names of what Truth.Drawn tells.
const (
	DrawnRd1         = "rd cc1"           // Ω, from the pin to ground, leakage included
	DrawnRd2         = "rd cc2"           // Ω
	DrawnCapacitance = "vbus capacitance" // F
	DrawnCurrent     = "charging current" // A, from VBUS in the fast phase, indicator lit
	DrawnPath        = "power path"       // Ω, plug contact and joint
	DrawnLight       = "light"            // V at the sensor, indicator lit
)

// Drawn tells what the seated unit is by its parts, in SI units: what a check
// would find that measured each of them alone. It is nil with an empty nest.
func (u Truth) Drawn() map[string]float64 {
	if u.t.unit == nil {
		return nil
	}
	b := u.t.unit.b
	parallel := func(a, c float64) float64 { return a * c / (a + c) }
	return map[string]float64{
		DrawnRd1: parallel(b.rd[0], b.leak[0]), DrawnRd2: parallel(b.rd[1], b.leak[1]),
		DrawnCapacitance: b.farads,
		DrawnCurrent:     b.charger.ChargeAmperes + b.charger.QuiescentAmperes + lampSupply/max(1, b.load) + b.litLamp(),
		DrawnPath:        u.t.unit.contact(wiring.PinVbusForce) + b.joint,
		DrawnLight:       b.light,
	}
}

// litLamp is what the indicator takes when a charge begins: one that blinks begins lit,
// and the current is read within the first half of its period.
func (b *board) litLamp() float64 {
	if i := &b.product.Indicator; !i.Fitted || i.Charging == product.Off {
		return 0
	}
	return b.lamp
}
