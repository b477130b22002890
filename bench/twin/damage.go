package twin

import (
	"fmt"
	"math/rand/v2"

	"sinkproof/bench/typec"
)

// The ends of severities. Each barely bad end lies past a limit of the
// standard or of the product; each grossly bad end is what a missing or wrong
// part, or a bridge of solder, gives.
const (
	openLeast  = 126e3 // zOPEN, what must still read as open (R2.5 table 4-30)
	openMost   = 1e9
	solder     = 0.05
	bridgeMost = 1e3 // what joins CC pins so that a marked cable still reads Ra

	wrongDecadeUpLeast   = 26e3 // with 64 µA above 1.64 V: open for every source
	wrongDecadeUpMost    = 56e3
	wrongDecadeDownLeast = 459.0
	wrongDecadeDownMost  = 1.5e3 // with 96 µA below 0.15 V: Ra for every source
	wrongValueMost       = 11e3

	backFeedCell = 3.0 // the lowest cell at which the limit must be seen
	backFeedMost = 100.0
)

// inflict puts one fault with its severity into the board. The place, where a
// fault has several, comes from the stream.
func (b *board) inflict(f Fault, s float64, place *rand.Rand) error {
	switch f.Name {
	case "no-rd", "rd-missing-one-pin", "shared-rd", "rd-51k", "rd-510", "rd-10k":
		return b.spoilRd(f, s, place)
	case "cc-short", "cc-vbus-short", "cc-gnd-short", "data-pin-open":
		return b.spoilPins(f, s, place)
	case "vbus-gnd-short", "contact-resistance", "bulk-missing", "bulk-too-large", "back-feed":
		b.spoilPower(f.Name, s)
	default:
		b.spoilCharge(f.Name, s)
	}
	return nil
}

func (b *board) spoilRd(f Fault, s float64, place *rand.Rand) error {
	widest := typec.RdWindow(typec.Within20).Max.SI
	both := func(ohms float64) { b.rd = [2]float64{ohms, ohms * (b.rd[1] / b.rd[0])} }
	switch f.Name {
	case "no-rd":
		ohms := logarithmic(s, openLeast, openMost)
		b.rd = [2]float64{ohms, ohms}
	case "rd-missing-one-pin":
		i, err := pick(f, place, "cc1", "cc2")
		if err != nil {
			return err
		}
		b.rd[i] = logarithmic(s, openLeast, openMost)
	case "shared-rd":
		b.rd[1], b.shared = openMost, logarithmic(s, 10, solder)
	case "rd-51k":
		both(logarithmic(s, wrongDecadeUpLeast, wrongDecadeUpMost))
	case "rd-510":
		both(logarithmic(s, wrongDecadeDownMost, wrongDecadeDownLeast))
	case "rd-10k":
		both(logarithmic(s, 1.02*widest, wrongValueMost))
	}
	return nil
}

func (b *board) spoilPins(f Fault, s float64, place *rand.Rand) error {
	if f.Name == "cc-short" {
		b.bridge = logarithmic(s, bridgeMost, solder)
		return nil
	}
	if f.Name == "data-pin-open" {
		i, err := pick(f, place, "dp1", "dm1", "dp2", "dm2")
		b.data[i] = logarithmic(s, 1e6, openMost)
		return err
	}
	i, err := pick(f, place, "cc1", "cc2")
	if f.Name == "cc-vbus-short" {
		b.toVbus[i] = logarithmic(s, bridgeMost, solder)
	} else {
		b.toGnd[i] = logarithmic(s, bridgeMost/2, solder)
	}
	return err
}

func (b *board) spoilPower(name string, s float64) {
	port := &b.product.Port
	switch name {
	case "vbus-gnd-short":
		b.short = logarithmic(s, 50, solder)
	case "contact-resistance":
		b.joint = logarithmic(s, 1, 5)
	case "bulk-missing":
		least := port.Capacitance.Low().SI
		bulk := linear(s, least/2, 0)
		b.farads = bulk + residual(b)
	case "bulk-too-large":
		most := port.Capacitance.High().SI
		most = max(most, typec.SinkCapacitance().Max.SI)
		b.farads = logarithmic(s, 1.2*most, max(100e-6, 10*most))
	case "back-feed":
		b.reverse = logarithmic(s, backFeedCell/(1.2*typec.BackFeed().Max.SI), backFeedMost)
	}
}

// residual is what stands at the charger's input beside the bulk capacitor: a
// share of the drawn sum, so that the fault adds no draw of its own.
func residual(b *board) float64 {
	port := &b.product.Port
	return b.farads * port.Residual.Nominal.SI / (port.Residual.Nominal.SI + port.Capacitance.Nominal.SI)
}

func (b *board) spoilCharge(name string, s float64) {
	tolerance := b.product.Charger.FastCurrent.Relative()
	nominal := b.product.Charger.FastCurrent.Nominal.SI / b.charger.ChargeAmperes
	regulation := b.product.Charger.Regulation.Nominal.SI
	switch name {
	case "current-half":
		b.program(nominal * linear(s, 0.93*(1-tolerance), 0.45))
	case "current-double":
		b.program(nominal * linear(s, 1.07*(1+tolerance), 2.1))
	case "charger-dead":
		b.program(nominal * linear(s, 0.01, 1e-6))
	case "overcharge":
		b.charger.RegulationVolts = regulation * linear(s, 1.0175, 1.05)
		b.charger.RechargeVolts = b.charger.RegulationVolts * b.product.Charger.Recharge.SI
	case "indicator-dead":
		b.light *= linear(s, 0.25, 0)
	}
}

// pick returns the place of a fault: the one that it names, or a drawn one.
func pick(f Fault, r *rand.Rand, pins ...string) (int, error) {
	drawn := r.IntN(len(pins))
	if f.pin == "" {
		return drawn, nil
	}
	for i, pin := range pins {
		if pin == f.pin {
			return i, nil
		}
	}
	return 0, fmt.Errorf("fault %s at pin %q: %w", f.Name, f.pin, ErrNoSuchPart)
}
