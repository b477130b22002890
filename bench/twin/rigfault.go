package twin

import (
	"errors"
	"fmt"
	"time"

	"sinkproof/bench/twin/chips"
	"sinkproof/bench/wiring"
)

// RigFaultKind is what is wrong with a rig.
type RigFaultKind string

// The faults of a rig. The comment says which fields of RigFault count.
const (
	ContactWelded    RigFaultKind = "contact-welded"     // Part: relay; Index: contact
	ContactStuckOpen RigFaultKind = "contact-stuck-open" // Part: relay; Index: contact
	ChipAbsent       RigFaultKind = "chip-absent"        // Part: chip
	ChannelGain      RigFaultKind = "channel-gain"       // Part: converter; Index: input; or Part: monitor; Value: relative error
	MainsHum         RigFaultKind = "mains-hum"          // Part: converter; Index: input; Value: amplitude at the input, volts
	BusHang          RigFaultKind = "bus-hang"           // Part: bus; Index: transfer from now; For
	BusDead          RigFaultKind = "bus-dead"           // Part: bus; Index: first transfer from now
	BusNak           RigFaultKind = "bus-nak"            // Part: bus; Index: transfer from now
	BusSlow          RigFaultKind = "bus-slow"           // Part: bus; Value: factor on the time of a transfer
	LineStuck        RigFaultKind = "line-stuck"         // Part: line; Value: level, 0 or 1
	SupplyDead       RigFaultKind = "supply-dead"        // Part: supply
	SupplyLate       RigFaultKind = "supply-late"        // Part: supply; For
	SupplyOff        RigFaultKind = "supply-off-value"   // Part: supply; Value: relative error, a drifted reference too
	SupplySlowOff    RigFaultKind = "supply-slow-off"    // Part: C supply; For
	ContactRestOpen  RigFaultKind = "contact-rest-open"  // Part: relay; Index: change-over contact
	ContactRestWeld  RigFaultKind = "contact-rest-weld"  // Part: relay; Index: change-over contact
	CoilOpen         RigFaultKind = "coil-open"          // Part: relay
	CoilDriverOn     RigFaultKind = "coil-driver-on"     // Part: relay
	SelectStuck      RigFaultKind = "select-stuck"       // Part: select; Value: 0 or 1
	MonostableStuck  RigFaultKind = "monostable-stuck"   // Part: heartbeat line; the coil supply outlives the beat
	CoilSupplyDead   RigFaultKind = "coil-supply-dead"   // Part: coil supply line; no arm pulse brings it
	ChainBypassed    RigFaultKind = "chain-bypassed"     // Part: stop or lid line; it does not cut the coil supply
	PinOpen          RigFaultKind = "pin-open"           // Part: pin of the plug
	PinWorn          RigFaultKind = "pin-worn"           // Part: pin of the plug; Value: ohms
	StopPressed      RigFaultKind = "stop-pressed"       // At, For (zero: for good)
	LidOpened        RigFaultKind = "lid-opened"         // At, For (zero: for good)
)

// ErrRigFault is the cause when a fault of the rig names nothing that there
// is, or is out of its domain.
var ErrRigFault = errors.New("not a fault that this rig can have")

// RigFault is a defect of the rig.
type RigFault struct {
	Kind  RigFaultKind
	Part  string
	Index int
	Value float64
	For   time.Duration
	// At is the instant for what happens at one; an instant that is past
	// means now.
	At time.Duration
}

// Break makes the rig faulty, in addition to what is broken already.
func (t *Twin) Break(f RigFault) error {
	t.catchUp()
	t.follow()
	var err error
	switch f.Kind {
	case ContactWelded, ContactStuckOpen, ContactRestOpen, ContactRestWeld:
		err = t.spoilContact(f)
	case CoilOpen, CoilDriverOn:
		err = t.spoilCoil(f)
	case SelectStuck:
		err = t.spoilSelect(f)
	case MonostableStuck, CoilSupplyDead, ChainBypassed:
		err = t.spoilChain(f)
	case ChipAbsent, ChannelGain, MainsHum:
		err = t.spoilChip(f)
	case BusHang, BusDead, BusNak, BusSlow:
		err = t.spoilBus(f)
	case LineStuck:
		err = t.spoilLine(f)
	case SupplyDead, SupplyLate, SupplyOff, SupplySlowOff:
		err = t.spoilSupply(f)
	case PinOpen, PinWorn:
		err = t.spoilPin(f)
	case StopPressed, LidOpened:
		t.interrupt(f)
	default:
		err = ErrRigFault
	}
	if err != nil {
		return fmt.Errorf("break the rig: %s %q: %w", f.Kind, f.Part, err)
	}
	return t.failure
}

// Release releases the stop and shuts the lid, and leaves every other fault;
// the coil supply stays as it is.
func (t *Twin) Release() {
	t.catchUp()
	t.switches[0].cancel(t.now)
	t.switches[1].cancel(t.now)
}

// Mend takes all faults off the rig. The stop is released and the lid shut;
// the coil supply stays as it is.
func (t *Twin) Mend() {
	t.catchUp()
	t.follow()
	for _, k := range t.relays {
		for i := range k.contacts {
			c := &k.contacts[i]
			c.welded, c.stuck, c.restOpen, c.restWelded = false, false, false, false
		}
		k.dead, k.stays = false, false
		k.power(t.now)
		k.apply()
	}
	for _, c := range t.chips {
		c.absent = false
	}
	for _, w := range t.config.Wiring.Chips {
		if adc := t.adcs[w.Name]; adc != nil {
			for i := range 4 {
				adc.Scale(i, 1)
				adc.Hum(i, 0, 0)
			}
		}
	}
	for _, c := range t.chips {
		if m, ok := c.device.(*chips.Monitor); ok {
			m.Scale(1)
		}
	}
	clear(t.selects)
	t.coils.stuck, t.coils.dead = false, false
	clear(t.coils.bypassed)
	for _, b := range t.buses {
		b.trouble, b.troubled = noTrouble(), false
		b.slow(1)
	}
	for _, l := range t.lines {
		l.stuck = false
	}
	for _, s := range t.supplies {
		p := s.plain()
		p.dead, p.drift, p.since, p.late, p.lingers = false, 0, 0, 0, 0
		p.selected(t.now)
	}
	clear(t.pins)
	t.wear()
	t.switches[0].cancel(t.now)
	t.switches[1].cancel(t.now)
}

func (t *Twin) spoilContact(f RigFault) error {
	k, err := t.relay(f.Part)
	if err != nil {
		return err
	}
	if f.Index < 0 || f.Index >= len(k.contacts) {
		return fmt.Errorf("contact %d: %w", f.Index, ErrRigFault)
	}
	c := &k.contacts[f.Index]
	if (f.Kind == ContactRestOpen || f.Kind == ContactRestWeld) && !c.hasNC {
		return fmt.Errorf("contact %d has no resting side: %w", f.Index, ErrRigFault)
	}
	c.welded, c.stuck = f.Kind == ContactWelded, f.Kind == ContactStuckOpen
	c.restOpen, c.restWelded = f.Kind == ContactRestOpen, f.Kind == ContactRestWeld
	k.apply()
	return nil
}

func (t *Twin) spoilCoil(f RigFault) error {
	k, err := t.relay(f.Part)
	if err != nil {
		return err
	}
	k.dead, k.stays = f.Kind == CoilOpen, f.Kind == CoilDriverOn
	k.power(t.now)
	return nil
}

func (t *Twin) spoilSelect(f RigFault) error {
	if _, ok := t.config.Wiring.Select(f.Part); !ok {
		return ErrNoSuchName
	}
	t.choose(t.now, f.Part, f.Value != 0)
	t.selects[f.Part] = true
	return nil
}

// spoilChain makes the hardware safety chain faulty.
func (t *Twin) spoilChain(f RigFault) error {
	for _, l := range t.lines {
		if l.name != f.Part {
			continue
		}
		switch {
		case f.Kind == MonostableStuck && l.use == beatLine:
			t.coils.stuck = true
		case f.Kind == CoilSupplyDead && l.use == coilLine:
			t.coils.dead = true
		case f.Kind == ChainBypassed && (l.use == stopLine || l.use == lidLine):
			t.coils.bypassed[l.use] = true
		default:
			return ErrRigFault
		}
		return nil
	}
	return ErrNoSuchName
}

func (t *Twin) spoilChip(f RigFault) error {
	if f.Kind == ChannelGain {
		for _, c := range t.chips {
			if m, ok := c.device.(*chips.Monitor); ok && c.name == f.Part {
				m.Scale(1 + f.Value)
				return nil
			}
		}
	}
	if f.Kind != ChipAbsent {
		adc := t.adcs[f.Part]
		if adc == nil || f.Index < 0 || f.Index > 3 {
			return fmt.Errorf("input %d: %w", f.Index, ErrRigFault)
		}
		if f.Kind == ChannelGain {
			adc.Scale(f.Index, 1+f.Value)
		} else {
			adc.Hum(f.Index, f.Value, t.config.Wiring.Mains.SI)
		}
		return nil
	}
	for _, c := range t.chips {
		if c.name == f.Part {
			c.absent = true
			return nil
		}
	}
	return ErrNoSuchName
}

func (t *Twin) spoilBus(f RigFault) error {
	b := t.bus(f.Part)
	if b == nil {
		return ErrNoSuchName
	}
	if f.Index < 0 || f.Kind == BusSlow && !(f.Value >= 1) {
		return ErrRigFault
	}
	b.troubled = true
	switch n := b.transfers + f.Index; f.Kind {
	case BusHang:
		b.trouble.hangAt, b.trouble.hang = n, f.For
	case BusDead:
		b.trouble.deadFrom = n
	case BusNak:
		b.trouble.nakAt = n
	case BusSlow:
		b.slow(f.Value)
	}
	return nil
}

func (t *Twin) spoilLine(f RigFault) error {
	for _, l := range t.lines {
		if l.name == f.Part {
			l.stuck, l.stuckAt = true, f.Value != 0
			return nil
		}
	}
	return ErrNoSuchName
}

func (t *Twin) spoilSupply(f RigFault) error {
	for _, s := range t.supplies {
		p := s.plain()
		if p.w.Name != f.Part {
			continue
		}
		switch f.Kind {
		case SupplyDead:
			p.dead = true
		case SupplyOff:
			p.drift = f.Value
		case SupplySlowOff:
			if p.w.Kind != wiring.CSupply {
				return fmt.Errorf("a supply of kind %s never goes off by itself in time: %w", p.w.Kind, ErrRigFault)
			}
			p.lingers = f.For
		case SupplyLate:
			p.since, p.late = t.now+f.For, f.For
		}
		p.selected(t.now)
		return nil
	}
	return ErrNoSuchName
}

// openPin is the resistance of a contact that does not touch.
const openPin = 1e9

func (t *Twin) spoilPin(f RigFault) error {
	for _, p := range t.config.Wiring.Nest.Pins {
		if p.Pin != f.Part {
			continue
		}
		t.pins[f.Part] = openPin
		if f.Kind == PinWorn {
			t.pins[f.Part] = f.Value
		}
		t.wear()
		return nil
	}
	return ErrNoSuchName
}

// wear sets the contacts of the plug to their present resistance.
func (t *Twin) wear() {
	if t.receptacle != nil {
		t.receptacle.wear()
	}
	if t.unit == nil {
		return
	}
	for _, p := range t.config.Wiring.Nest.Pins {
		if id, ok := t.unit.reached[p.Pin]; ok {
			_, extra, _ := t.unit.pad(p.Pin)
			t.check(t.sim.SetOhms(id, t.unit.contact(p.Pin)+extra))
		}
	}
}

// interrupter presses the stop or opens the lid at its instant, and takes it
// back.
type interrupter struct {
	set   func(now time.Duration, on bool)
	timer timer
	back  time.Duration // when it is taken back; zero for never
	on    bool
}

// interrupt plans a press of the stop or an opening of the lid.
func (t *Twin) interrupt(f RigFault) {
	s := &t.switches[0]
	if f.Kind == LidOpened {
		s = &t.switches[1]
	}
	at := max(f.At, t.now)
	s.back, s.on = 0, false
	if f.For > 0 {
		s.back = at + f.For
	}
	s.timer.Set(at)
}

// Due presses or takes back.
func (s *interrupter) Due(now time.Duration) {
	s.on = !s.on
	s.set(now, s.on)
	if s.on && s.back > 0 {
		s.timer.Set(s.back)
	}
}

// cancel takes back at once.
func (s *interrupter) cancel(now time.Duration) {
	s.timer.Stop()
	s.on = false
	s.set(now, false)
}
