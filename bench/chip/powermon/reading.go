package powermon

import (
	"fmt"
	"math"
	"time"

	"sinkproof/bench/chip"
	"sinkproof/bench/quantity"
)

// Reading is one finished conversion of shunt and bus.
type Reading struct {
	Shunt, Bus, Current, Power quantity.Quantity
	// ShuntCode is the signed code of the shunt register.
	ShuntCode int16
	// Saturated is set when the shunt register stands at an end of its range.
	// Shunt is then only a bound, and Current and Power mean nothing better.
	Saturated bool
	// Overflow is set when Current or Power did not fit its register.
	Overflow bool
	// From and At enclose the time in which the inputs were integrated. At is
	// when the last register had been read.
	From, At time.Duration
}

// words are the four result registers as read.
type words struct {
	shunt, current int16
	bus, power     uint16
}

// words reads the four result registers.
func (d *Dev) words() (words, error) {
	w, err := d.converted(true)
	if err != nil {
		return words{}, err
	}
	current, err := d.regs.Read(regCurrent)
	if err != nil {
		return words{}, err
	}
	w.current = int16(current)
	w.power, err = d.regs.Read(regPower)
	return w, err
}

// converted reads the result registers that the converter fills, the second where it
// is asked for. The other two are products of these.
func (d *Dev) converted(both bool) (words, error) {
	shunt, err := d.regs.Read(regShunt)
	if err != nil || !both {
		return words{shunt: int16(shunt)}, err
	}
	bus, err := d.regs.Read(regBus)
	if err != nil {
		return words{}, err
	}
	w := words{shunt: int16(shunt), bus: bus}
	return w, w.check()
}

// derive computes current and power as the chip does: Current = Shunt*CAL/2048,
// Power = |Current|*Bus/20000 (SBOS547, pp. 15-16). What does not fit its register
// is left to Overflow.
func (w *words) derive(cal uint16) {
	w.current = int16(w.product(cal))
	w.power = uint16(max(int64(w.current), -int64(w.current)) * int64(w.bus) / 20000)
}

// product is the current before it is put into sixteen bits.
func (w words) product(cal uint16) int32 { return int32(w.shunt) * int32(cal) / 2048 }

// check finds words that the chip cannot have sent. Bit 15 of the bus register
// is always 0 (SBOS547, bus voltage register); a bus that nobody drives reads
// all ones.
func (w words) check() error {
	if w.bus > math.MaxInt16 {
		return fmt.Errorf("bus register reads %04Xh, which the chip cannot send: %w", w.bus, chip.ErrLost)
	}
	return nil
}

// agree compares the current with shunt * cal / 2048 (SBOS547, p. 15), one code
// allowed for rounding. A product that does not fit is left to Overflow.
func (w words) agree(cal uint16) error {
	want := w.product(cal)
	if want > math.MaxInt16 || want < math.MinInt16 {
		return nil
	}
	if diff := int32(w.current) - want; diff < -1 || diff > 1 {
		return fmt.Errorf("current register reads %d, shunt %d and calibration %d give %d: %w",
			w.current, w.shunt, cal, want, chip.ErrLost)
	}
	return nil
}

// reading forms the result of the words just read.
func (d *Dev) reading(w words, from time.Duration) Reading {
	product := w.product(d.cal)
	return Reading{
		Shunt:     quantity.Volts(float64(w.shunt) * shuntStep),
		Bus:       quantity.Volts(float64(w.bus) * busStep),
		Current:   quantity.Amperes(float64(w.current) * d.lsb),
		Power:     quantity.Quantity{SI: float64(w.power) * powerFactor * d.lsb, Dim: quantity.Power},
		ShuntCode: w.shunt,
		Saturated: saturated(w.shunt),
		Overflow:  d.overflow || product != int32(int16(product)),
		From:      from,
		At:        d.clock.Now(),
	}
}

// saturated tells whether a shunt code stands at an end of the range.
func saturated(code int16) bool { return code == math.MaxInt16 || code == math.MinInt16 }
