package twin

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
)

// ErrNoSuchName is the cause when the inspector is asked for something that
// the rig does not have.
var ErrNoSuchName = errors.New("the rig has nothing of this name")

// Truth looks into the circuit. It is for tests and summaries: no bench has
// such a thing.
type Truth struct{ t *Twin }

// Truth returns the inspector.
func (t *Twin) Truth() Truth { return Truth{t} }

// Now returns the instant up to which the twin has been played.
func (u Truth) Now() time.Duration { return u.t.base.Now() }

// Err returns what went wrong inside the twin itself; nil on a healthy one.
func (u Truth) Err() error { return u.t.failure }

// Pass lets time go by without a bench.
func (u Truth) Pass(d time.Duration) error {
	if err := u.t.pass(context.Background(), d); err != nil {
		return err
	}
	u.t.catchUp()
	return u.t.failure
}

// Volts returns the voltage of a net in V.
func (u Truth) Volts(net string) (float64, error) {
	for _, n := range u.t.config.Wiring.Nets {
		if n.Name == net {
			u.t.catchUp()
			return u.t.sim.Volts(u.t.netlist.Node(net)), u.t.failure
		}
	}
	if net == wiring.Ground {
		return 0, nil
	}
	return 0, fmt.Errorf("net %q: %w", net, ErrNoSuchName)
}

// Vbus returns VBUS on the unit's board against its own ground in V, and 0
// with no unit seated.
func (u Truth) Vbus() float64 {
	if u.t.unit == nil {
		return 0
	}
	u.t.catchUp()
	return u.t.sim.Volts(u.t.unit.vbus) - u.t.sim.Volts(u.t.unit.gnd)
}

// CellAmperes returns the current that the charger gives to the cell.
func (u Truth) CellAmperes() float64 {
	if u.t.unit == nil {
		return 0
	}
	u.t.catchUp()
	i := u.t.sim.Amperes(u.t.unit.charger)
	if u.t.unit.b.asks {
		i += u.t.sim.Amperes(u.t.unit.slow)
	}
	return i
}

// Charger returns what the charger does, in words.
func (u Truth) Charger() string {
	if u.t.unit == nil {
		return "no unit"
	}
	u.t.catchUp()
	id := u.t.unit.charger
	if u.t.unit.b.asks && u.t.sim.Segment(id) == "off" {
		id = u.t.unit.slow
	}
	return u.t.sim.Segment(id)
}

// Unit is a seated unit as drawn, faults included, in SI units.
type Unit struct {
	Serial       string
	Rd           [2]float64
	Capacitance  float64
	Load         float64
	FastCurrent  float64
	Regulation   float64
	Light        float64
	PowerContact float64 // plug contact and joint of the unit together
	// Severities of its faults.
	Severities map[string]float64
}

// Unit returns the seated unit; ok is false with an empty nest.
func (u Truth) Unit() (unit Unit, ok bool) {
	if u.t.unit == nil {
		return Unit{}, false
	}
	b := u.t.unit.b
	severities := map[string]float64{}
	for name, s := range b.faults {
		severities[name] = s
	}
	return Unit{
		Serial: b.serial, Rd: b.rd, Capacitance: b.farads, Load: b.load,
		FastCurrent: b.charger.ChargeAmperes, Regulation: b.charger.RegulationVolts, Light: b.light,
		PowerContact: u.t.unit.contact(wiring.PinVbusForce) + b.joint, Severities: severities,
	}, true
}

// Made tells how a contact of a relay stands in the circuit: joined with NO,
// joined with NC.
func (u Truth) Made(relay string, contact int) (no, nc bool, err error) {
	k, err := u.t.relay(relay)
	if err != nil {
		return false, false, err
	}
	if contact < 0 || contact >= len(k.contacts) {
		return false, false, fmt.Errorf("contact %d of relay %s: %w", contact, relay, ErrNoSuchName)
	}
	u.t.catchUp()
	c := &k.contacts[contact]
	return c.madeNO, c.madeNC, nil
}

// Moves returns how often a relay was energised.
func (u Truth) Moves(relay string) (int, error) {
	k, err := u.t.relay(relay)
	if err != nil {
		return 0, err
	}
	return k.moves, nil
}

// CoilSupply tells whether the coils have power.
func (u Truth) CoilSupply() bool {
	u.t.catchUp()
	return u.t.coils.on
}

// Supply returns the state of a C or portable supply in words.
func (u Truth) Supply(name string) (string, error) {
	u.t.catchUp()
	for _, s := range u.t.supplies {
		if s.plain().w.Name != name {
			continue
		}
		switch x := s.(type) {
		case *cSupply:
			return x.state.String(), nil
		case *portable:
			if x.on {
				return "on", nil
			}
			return "off", nil
		}
		return "on", nil
	}
	return "", fmt.Errorf("supply %q: %w", name, ErrNoSuchName)
}

// Drive sets the coils and selects as if the coil supply were on and the
// expanders said so: those that are named on, all others off. A heartbeat is
// not needed as long as only Truth lets time pass.
func (u Truth) Drive(on ...string) error {
	u.t.catchUp()
	wanted := map[string]bool{}
	for _, name := range on {
		wanted[name] = true
	}
	u.t.coils.on = true
	for _, k := range u.t.relays {
		k.want(u.t.now, wanted[k.w.Name])
		delete(wanted, k.w.Name)
	}
	for _, s := range u.t.config.Wiring.Selects {
		u.t.choose(u.t.now, s.Name, wanted[s.Name])
		delete(wanted, s.Name)
	}
	for name := range wanted {
		return fmt.Errorf("relay or select %q: %w", name, ErrNoSuchName)
	}
	return nil
}

// Circuit returns the circuit at the present instant, for an export to
// another simulator. It must not be changed.
func (u Truth) Circuit() *circuit.Sim {
	u.t.catchUp()
	return u.t.sim
}

// relay finds a relay by its name.
func (t *Twin) relay(name string) (*relay, error) {
	for _, k := range t.relays {
		if k.w.Name == name {
			return k, nil
		}
	}
	return nil, fmt.Errorf("relay %q: %w", name, ErrNoSuchName)
}
