package typec

import (
	"math"

	"sinkproof/bench/quantity"
)

// Form is how a source builds its pull-up.
type Form int

const (
	// CurrentSource is a current out of a supply of 1.7 V to 5.5 V.
	CurrentSource Form = iota
	// To5V is a resistor to 4.75 V to 5.5 V.
	To5V
	// To3V3 is a resistor to 3.3 V ±5 %.
	To3V3
)

// String returns "current source", "resistor to 5 V" or "resistor to 3.3 V".
func (f Form) String() string {
	switch f {
	case To5V:
		return "resistor to 5 V"
	case To3V3:
		return "resistor to 3.3 V"
	}
	return "current source"
}

// Forms returns the three forms.
func Forms() []Form { return []Form{CurrentSource, To5V, To3V3} }

// Rp is the pull-up of a source: a current for CurrentSource, otherwise a
// resistance. Tolerances are ±20 % at default; above it ±8 % for currents and
// ±5 % for resistors.
func Rp(a Advertisement, f Form) Range {
	const table = "4-27"
	switch f {
	case To5V:
		return rpOhms(a, 56e3, 22e3, 10e3, r25(table))
	case To3V3:
		return rpOhms(a, 36e3, 12e3, 4.7e3, r25(table))
	}
	switch a {
	case A1500:
		return around(quantity.Current, 165.6e-6, 180e-6, 194.4e-6, r25(table))
	case A3000:
		return around(quantity.Current, 303.6e-6, 330e-6, 356.4e-6, r25(table))
	}
	return around(quantity.Current, 64e-6, 80e-6, 96e-6, r25(table))
}

// rpOhms picks the nominal resistor of an advertisement; the table gives the
// limits as percentages.
func rpOhms(a Advertisement, atDefault, at1500, at3000 float64, c citation) Range {
	switch a {
	case A1500:
		return around(quantity.Resistance, at1500*95/100, at1500, at1500*105/100, c)
	case A3000:
		return around(quantity.Resistance, at3000*95/100, at3000, at3000*105/100, c)
	}
	return around(quantity.Resistance, atDefault*80/100, atDefault, atDefault*120/100, c)
}

// PullUpSupply is the voltage that a pull-up of the form stands on.
func PullUpSupply(f Form) Range {
	switch f {
	case To5V:
		return around(quantity.Voltage, 4.75, 5, 5.5, r25("4-27"))
	case To3V3:
		return around(quantity.Voltage, 3.135, 3.3, 3.465, r25("4-27"))
	}
	return volts(1.7, 5.5, r25("4-27"))
}

// LegacyRp is the pull-up to VBUS in the C plug of a legacy A-to-C cable: on
// one CC contact, the other open. It advertises the default current whatever
// the supply can give, because the cable cannot know.
func LegacyRp() Range {
	return around(quantity.Resistance, 53.2e3, 56e3, 58.8e3, r25("4-27 note 1"))
}

// ControllerRp is the pull-up current of a port controller, as an example of
// the class.
func ControllerRp(a Advertisement) Range {
	source := seen("TI TUSB319-Q1 data sheet SLLSEV4, electrical characteristics")
	switch a {
	case A1500:
		return around(quantity.Current, 166e-6, 180e-6, 194e-6, source)
	case A3000:
		return around(quantity.Current, 304e-6, 330e-6, 356e-6, source)
	}
	return around(quantity.Current, 64e-6, 80e-6, 96e-6, source)
}

// PullUp is one built pull-up, in SI: a current out of a rail, or a resistor
// to it.
type PullUp struct {
	Form Form
	// Amperes is the current of a CurrentSource; Ohms the resistor otherwise.
	Amperes, Ohms float64
	// RailVolts is the supply it stands on.
	RailVolts float64
}

// NominalPullUp is the pull-up at the middle of its tolerance. The current
// source is taken to stand on 5 V, which the standard leaves open.
func NominalPullUp(a Advertisement, f Form) PullUp {
	rp := Rp(a, f).Typ.SI
	if f == CurrentSource {
		return PullUp{Form: f, Amperes: rp, RailVolts: 5}
	}
	return PullUp{Form: f, Ohms: rp, RailVolts: PullUpSupply(f).Typ.SI}
}

// Volts is the voltage on the CC wire with a load to ground: 0 for a short,
// the rail for an infinite load.
func (p PullUp) Volts(loadOhms float64) float64 {
	if p.Form == CurrentSource {
		return CurrentVolts(p.Amperes, loadOhms, p.RailVolts)
	}
	return DividerVolts(p.RailVolts, p.Ohms, loadOhms)
}

// DividerVolts is the voltage of a load pulled up through a resistor:
// V = Vs·R/(Rp + R). An infinite load gives the supply.
func DividerVolts(supplyVolts, pullUpOhms, loadOhms float64) float64 {
	if math.IsInf(loadOhms, 1) {
		return supplyVolts
	}
	return supplyVolts * loadOhms / (pullUpOhms + loadOhms)
}

// CurrentVolts is the voltage of a load on a current source: V = I·R, until
// the source reaches its rail.
func CurrentVolts(amperes, loadOhms, railVolts float64) float64 {
	return min(amperes*loadOhms, railVolts)
}

// DividerOhms is the load that explains a voltage behind a pull-up resistor:
// R = Rp·V/(Vs - V). It is +Inf where the voltage reaches the supply, and NaN
// for one above it.
func DividerOhms(supplyVolts, pullUpOhms, volts float64) float64 {
	switch {
	case volts > supplyVolts:
		return math.NaN()
	case volts == supplyVolts:
		return math.Inf(1)
	}
	return pullUpOhms * volts / (supplyVolts - volts)
}

// ParallelOhms is the resistance of resistors in parallel: +Inf for none, 0
// where one is a short.
func ParallelOhms(ohms ...float64) float64 {
	siemens := 0.0
	for _, r := range ohms {
		siemens += 1 / r
	}
	return 1 / siemens
}
