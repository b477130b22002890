package proving

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// Suspect is one thing that may be wrong with a rig, and how.
type Suspect struct {
	// Thing is the relay, supply, channel, chip, line or pin, as the wiring
	// file names it.
	Thing string `json:"thing"`
	// Fault says what is wrong with it.
	Fault Kind `json:"fault"`
	// Part names a contact of a relay that has several; else it is empty.
	Part string `json:"part,omitempty"`
	// Amount is what was found where the fault has a size: relative for a gain
	// or a drift, ohms for a worn pin. Zero for none.
	Amount float64 `json:"amount,omitempty"`
}

// Kind is what can be wrong.
type Kind string

// The kinds of fault that the self-test can name.
const (
	// Welded: the contact stays closed, or the driver of its coil stays on.
	Welded Kind = "stays closed"
	// StuckOpen: the contact does not close, or its coil does not pull.
	StuckOpen Kind = "does not close"
	// RestOpen: the resting side of a change-over contact does not close.
	RestOpen Kind = "does not close at rest"
	// RestWelded: the resting side of a change-over contact stays closed.
	RestWelded Kind = "stays closed at rest"
	// CoilDead: all contacts of a relay stay at rest; CoilOn: all stay moved.
	CoilDead Kind = "does not pull"
	CoilOn   Kind = "stays pulled"
	// SelectDead and SelectOn: an output that chooses a level does not move.
	SelectDead Kind = "stays off"
	SelectOn   Kind = "stays on"
	// SupplyDead gives nothing; SupplyOff gives another value than the wiring
	// states; SupplyLate comes too late; SupplySlowOff goes too late.
	SupplyDead    Kind = "gives nothing"
	SupplyOff     Kind = "is out of its range"
	SupplyLate    Kind = "comes late"
	SupplySlowOff Kind = "goes off late"
	// Gain: a channel reads a wrong value, in proportion.
	Gain Kind = "reads wrong"
	// PinOpen does not touch; PinWorn has too much resistance.
	PinOpen Kind = "does not touch"
	PinWorn Kind = "is worn"
	// NotSeated: nothing is in the nest where the check receptacle should be.
	NotSeated Kind = "is not seated"
	// Absent: a chip or a bus does not answer.
	Absent Kind = "does not answer"
	// LineStuck: a line of the computer does not move, or does not tell.
	LineStuck Kind = "is stuck"
	// NotCut: the safety chain does not cut the coil supply.
	NotCut Kind = "does not cut the coil supply"
	// NoSupply: the coil supply does not come after the arm pulse.
	NoSupply Kind = "does not come"
	// NoAlert: a monitor does not pull its alert line.
	NoAlert Kind = "gives no alert"
	// Unknown: none of the faults that the wiring allows for explains what was
	// measured.
	Unknown Kind = "has a fault that is none of the known ones"
)

// String names thing, part and fault.
func (s Suspect) String() string {
	text := s.Thing
	if s.Part != "" {
		text += ", contact " + s.Part + ","
	}
	text += " " + string(s.Fault)
	switch {
	case s.Amount == 0:
	case s.Fault == Gain || s.Fault == SupplyOff:
		text += fmt.Sprintf(" (%+.1f %%)", 100*s.Amount)
	case s.Fault == PinWorn:
		text += " (about " + quantity.Ohms(s.Amount).Text(2) + ")"
	}
	return text
}

// change is what a suspect does to the circuit. The zero change is none.
type change struct {
	relay   string
	contact int
	effect  Kind
	coils   map[string]bool // relays whose armature stands still
	selects map[string]bool
	dead    string // supply
	pin     string
	ohms    float64
	// unseated: nobody seated the check receptacle.
	unseated bool
}

// throw is where a contact stands.
type throw struct{ no, nc bool }

// throw is where a contact of a relay stands with its coil on or off.
func (f *change) throw(relay string, contact int, on bool) throw {
	t := throw{no: on, nc: !on}
	if f.relay != relay || f.contact != contact {
		return t
	}
	switch f.effect {
	case Welded:
		return throw{no: true}
	case StuckOpen:
		t.no = false
	case RestOpen:
		t.nc = false
	case RestWelded:
		return throw{nc: true}
	}
	return t
}

// pulled is whether the armature of a relay is pulled, with its coil on or off.
func (f *change) pulled(relay string, on bool) bool {
	if forced, ok := f.coils[relay]; ok {
		return forced
	}
	return on
}

// idle tells whether a change leaves a state as it is: a contact that should
// stay closed and is, a select that is where it stays.
func (f *change) idle(s stand, m *model) bool {
	if f.pin != "" || f.unseated {
		return !s.seated
	}
	if f.dead != "" {
		return false
	}
	for name, stays := range f.selects {
		return s.state.Holds(name) == stays
	}
	for name, forced := range f.coils {
		return s.state.Holds(name) == forced
	}
	k, ok := m.rig.Relay(f.relay)
	if !ok {
		return true
	}
	on := s.state.Holds(f.relay)
	c := &k.Contacts[f.contact]
	faulty, sound := f.throw(f.relay, f.contact, on), throw{no: on, nc: !on}
	return (c.NO == "" || faulty.no == sound.no) && (c.Form != wiring.FormC || c.NC == "" || faulty.nc == sound.nc)
}

// selected is a list of what is on, with the selects that do not move.
func (f *change) selected(on []string) []string {
	if len(f.selects) == 0 {
		return on
	}
	var out []string
	for _, name := range on {
		if _, stuck := f.selects[name]; !stuck {
			out = append(out, name)
		}
	}
	for name, stays := range f.selects {
		if stays {
			out = append(out, name)
		}
	}
	return out
}

// hypothesis is a suspect with what it does: a change of the circuit, or one
// that grows with an unknown amount.
type hypothesis struct {
	Suspect
	// changes has one entry, or the two ends between which a worn pin lies.
	changes []change
	// gain is the channel whose readings are wrong, through one chip; drift is
	// the supply whose value is. late is the supply that gives nothing at first.
	gain        int
	meter       string
	drift, late string
	measured    bool // gain and drift: the amount is fitted
}

// hypotheses lists everything single that can be wrong, in the order of the
// wiring.
func (m *model) hypotheses(seated bool) []hypothesis {
	var out []hypothesis
	add := func(thing, part string, kind Kind, f ...change) {
		out = append(out, hypothesis{Suspect: Suspect{Thing: thing, Part: part, Fault: kind}, changes: f, gain: -1})
	}
	for i := range m.rig.Relays {
		relayFaults(&m.rig.Relays[i], add)
	}
	for i := range m.rig.Selects {
		name := m.rig.Selects[i].Name
		add(name, "", SelectDead, change{selects: map[string]bool{name: false}})
		add(name, "", SelectOn, change{selects: map[string]bool{name: true}})
	}
	for i := range m.rig.Supplies {
		name := m.rig.Supplies[i].Name
		add(name, "", SupplyDead, change{dead: name})
		add(name, "", SupplyOff, change{})
		out[len(out)-1].drift, out[len(out)-1].measured = name, true
		add(name, "", SupplyLate, change{dead: name})
		out[len(out)-1].late = name
	}
	seen := map[string]bool{}
	for i, c := range m.channels {
		meters := []string{""}
		if c.Kind == wiring.CurrentChannel {
			meters = nil
			for _, g := range c.Ranges {
				// Two channels may share a monitor; its gain is one.
				if !seen[g.Chip] {
					seen[g.Chip], meters = true, append(meters, g.Chip)
				}
			}
		}
		for _, meter := range meters {
			add(c.Name, "", Gain, change{})
			h := &out[len(out)-1]
			h.gain, h.meter, h.measured = i, meter, true
			if meter != "" {
				h.Thing = c.Name + " by " + meter
			}
		}
	}
	if seated {
		add(checkReceptacle, "", NotSeated, change{unseated: true})
		m.pinFaults(add)
	}
	return out
}

// checkReceptacle is the thing that is seated in place of a unit.
const checkReceptacle = "check receptacle"

func relayFaults(k *wiring.Relay, add func(thing, part string, kind Kind, f ...change)) {
	for j := range k.Contacts {
		c := &k.Contacts[j]
		part := c.Name
		if len(k.Contacts) == 1 {
			part = ""
		}
		one := func(kind Kind) { add(k.Name, part, kind, change{relay: k.Name, contact: j, effect: kind}) }
		if c.NO != "" {
			one(Welded)
			one(StuckOpen)
		}
		if c.Form == wiring.FormC && c.NC != "" {
			one(RestOpen)
			one(RestWelded)
		}
	}
	// With one make contact a dead coil is what a stuck contact is.
	if len(k.Contacts) > 1 {
		add(k.Name, "", CoilDead, change{coils: map[string]bool{k.Name: false}})
		add(k.Name, "", CoilOn, change{coils: map[string]bool{k.Name: true}})
	}
}

// worn is the grid of resistances between which a worn pin is looked for, in
// ohms.
func worn() []float64 {
	return []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1e3, 2e3, 5e3, 10e3, 20e3, 50e3, 100e3, 200e3, 500e3, 1e6, 2e6, 5e6, openOhms}
}

// A pin that does not touch has more than openOhms, and less than no insulation
// that there is.
const (
	openOhms = 1e7
	airOhms  = 1e13
)

func (m *model) pinFaults(add func(thing, part string, kind Kind, f ...change)) {
	for i := range m.rig.Nest.Pins {
		p := &m.rig.Nest.Pins[i]
		if p.Resistance.Nominal.SI <= 0 {
			continue
		}
		thing := "pin " + p.Pin
		add(thing, "", PinOpen, change{pin: p.Pin, ohms: openOhms}, change{pin: p.Pin, ohms: airOhms})
		grid := worn()
		for j := range len(grid) - 1 {
			add(thing, "", PinWorn, change{pin: p.Pin, ohms: grid[j]}, change{pin: p.Pin, ohms: grid[j+1]})
		}
	}
}

// merge joins suspects that say the same: segments of one worn pin, an amount
// that another suspect has at its end.
func merge(list []Suspect) []Suspect {
	var out []Suspect
	for _, s := range list {
		same := slices.IndexFunc(out, func(o Suspect) bool {
			return o.Thing == s.Thing && o.Part == s.Part && (o.Fault == s.Fault || o.extreme(s))
		})
		switch {
		case same < 0:
			out = append(out, s)
		case out[same].Fault == PinWorn && s.Fault == PinWorn:
			out[same].Amount = math.Sqrt(out[same].Amount * s.Amount)
		}
	}
	return out
}

// extreme tells whether another suspect is this one with the largest amount:
// nothing is the most that a supply can be off, open the most that a pin can be
// worn.
func (s Suspect) extreme(o Suspect) bool {
	return s.Fault == SupplyDead && (o.Fault == SupplyOff || o.Fault == SupplyLate) || s.Fault == PinOpen && o.Fault == PinWorn
}
