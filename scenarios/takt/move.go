package takt

import (
	"fmt"
	"math"
	"slices"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// Component is a part of a run that takes time whatever the bench does.
type Component struct {
	Round   string  `json:"round"`
	Step    string  `json:"step,omitempty"`
	Cause   Cause   `json:"cause"`
	Seconds float64 `json:"seconds"`
	// How is the formula with where its figures stand.
	How string `json:"how"`
}

// Rig is a rig and a product as the computations here need them.
type Rig struct {
	wiring  *wiring.Rig
	product *product.Product
	pace    bench.Pace
	// bleeder empties VBUS, through the switch that closes without its coil.
	bleeder float64 // ohms
	bleeds  string  // its resistor
	kinds   map[string]kind
}

// kind is what an output of an expander moves.
type kind int

const (
	contact kind = iota
	solid
	selects
)

// NewRig prepares a rig and a product for computing.
func NewRig(rig *wiring.Rig, prod *product.Product) *Rig {
	r := &Rig{wiring: rig, product: prod, pace: bench.OwnPace(), kinds: map[string]kind{}}
	for _, k := range rig.Relays {
		if k.SolidState {
			r.kinds[k.Name] = solid
		}
	}
	for _, s := range rig.Selects {
		r.kinds[s.Name] = selects
	}
	r.findBleeder()
	return r
}

// findBleeder looks for the resistor to ground behind a semiconductor that is
// closed at rest and leads to VBUS at the sense pin.
func (r *Rig) findBleeder() {
	for _, k := range r.wiring.Relays {
		for _, c := range k.Contacts {
			if !k.SolidState || c.NC == "" || c.Common != r.senseNet() {
				continue
			}
			for _, p := range r.wiring.Parts {
				if p.Kind == wiring.Resistor && (p.A == c.NC && p.B == wiring.Ground || p.B == c.NC && p.A == wiring.Ground) {
					r.bleeder, r.bleeds = p.Value.Nominal.SI, p.Name
				}
			}
		}
	}
}

func (r *Rig) senseNet() string {
	for _, p := range r.wiring.Nest.Pins {
		if p.Pin == wiring.PinVbusSense {
			return p.Net
		}
	}
	return ""
}

// outputs is a set of names of outputs that are on.
type outputs map[string]bool

func setOf(s wiring.State) outputs {
	out := outputs{}
	for _, n := range slices.Concat(s.On, s.Feed) {
		out[n] = true
	}
	return out
}

// keep returns those of a set that are wanted.
func (o outputs) keep(want func(name string) bool) outputs {
	out := outputs{}
	for n := range o {
		if want(n) {
			out[n] = true
		}
	}
	return out
}

func (o outputs) with(p outputs) outputs {
	out := o.keep(func(string) bool { return true })
	for n := range p {
		out[n] = true
	}
	return out
}

// differs lists what is in one set only, sorted.
func (o outputs) differs(p outputs) []string {
	var out []string
	for n := range o {
		if !p[n] {
			out = append(out, n)
		}
	}
	for n := range p {
		if !o[n] {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return out
}

func (r *Rig) of(o outputs, k kind) outputs {
	return o.keep(func(n string) bool { return r.kinds[n] == k })
}

// Move is the way from one setting to another.
type Move struct {
	Components []Component
	// Closings is how many contacts close: relay operations.
	Closings int
	// since is how long before the end of the way the contacts that were last
	// to move had come to rest.
	since float64
	// after is how long what was written last still moves.
	after float64
	// lights tells that VBUS came on by it.
	lights bool
}

// Seconds is how long the way takes.
func (m Move) Seconds() float64 {
	sum := 0.0
	for _, c := range m.Components {
		sum += c.Seconds
	}
	return sum
}

// mover writes the components of one way down.
type mover struct {
	*Rig
	now  outputs
	move Move
	// volts is what VBUS stands at before it is emptied.
	volts float64
}

// Way computes the way from one state to another, break before make, as
// bench.Rig.Enter goes it. volts is what VBUS stands at while nothing feeds it
// any more.
func (r *Rig) Way(from, to wiring.State, volts float64) Move {
	m := &mover{Rig: r, now: setOf(from), volts: volts}
	target := setOf(to)
	if len(r.of(m.now, contact).differs(r.of(target, contact))) == 0 {
		m.switchOver(target)
		return m.move
	}
	rest := m.now.keep(func(n string) bool { return r.kinds[n] != solid })
	if from.Setting.Condition == bench.ProbeVbus {
		rest = outputs{}
	}
	m.write(rest, true)
	m.empty()
	both := r.of(m.now, contact).keep(func(n string) bool { return target[n] })
	m.write(both.with(r.of(target, selects)), true)
	m.write(m.now.with(r.of(target, contact)), true)
	feed := outputs{}
	for _, n := range to.Feed {
		feed[n] = true
	}
	semis := r.of(target, solid)
	if first := semis.keep(func(n string) bool { return !feed[n] }); len(first) > 0 && len(first) < len(semis) {
		m.write(m.now.with(first), true)
	}
	m.write(target, false)
	m.move.lights = len(feed) > 0
	return m.move
}

// switchOver changes selects and semiconductors only.
func (m *mover) switchOver(target outputs) {
	opening := m.of(m.now, solid).keep(func(n string) bool { return !target[n] })
	closing := m.of(target, solid).keep(func(n string) bool { return !m.now[n] })
	if len(opening) > 0 && len(closing) > 0 {
		m.write(m.now.keep(func(n string) bool { return !opening[n] }), true)
	}
	m.write(target, false)
}

// write brings the outputs to a set and, unless it is the last one, waits until
// contacts stand still.
func (m *mover) write(want outputs, wait bool) {
	moved := m.now.differs(want)
	if len(moved) == 0 {
		return
	}
	bits, chips := m.bits(want, moved)
	m.add(Component{Cause: Bus, Seconds: bits, How: fmt.Sprintf("pattern of %d expander(s), written and read back", chips)})
	still, slowest := 0.0, ""
	contacts := 0
	for _, n := range moved {
		if want[n] && m.kinds[n] == contact {
			m.move.Closings++
		}
		k, ok := m.wiring.Relay(n)
		if !ok {
			continue
		}
		if m.kinds[n] == contact {
			contacts++
		}
		s := k.Release.SI
		if want[n] {
			s = k.Operate.SI
		}
		if s += k.Bounce.SI; s > still || s == still && slowest == "" {
			still, slowest = s, n
		}
	}
	m.now, m.move.after = want, still
	if wait && still > 0 {
		m.add(Component{Cause: Relays, Seconds: still, How: fmt.Sprintf("operate or release, and bounce, of %s (wiring)", slowest)})
	}
	if contacts > 0 {
		m.move.since = 0
	}
}

func (m *mover) add(c Component) {
	m.move.Components = append(m.move.Components, c)
	m.move.since += c.Seconds
}

// The bits of one pattern: start, address and acknowledge, two registers and a
// repeated start for reading four back, 104 in all; an expander that is written
// off is brought back to its register map first, 171 (bench/chip/expander16).
const (
	bitsWrite = 104
	bitsOff   = 171
)

// bits is how long the expanders that change take on their buses.
func (m *mover) bits(want outputs, moved []string) (seconds float64, chips int) {
	changed := map[string]bool{}
	for _, n := range moved {
		changed[m.chipOf(n)] = true
	}
	lit := map[string]bool{}
	for n := range want {
		lit[m.chipOf(n)] = true
	}
	for _, c := range m.wiring.Chips {
		if !changed[c.Name] {
			continue
		}
		chips++
		n := float64(bitsWrite)
		if !lit[c.Name] {
			n = bitsOff
		}
		if bus, ok := m.wiring.Bus(c.Bus); ok && bus.Frequency.SI > 0 {
			seconds += n / bus.Frequency.SI
		}
	}
	return seconds, chips
}

func (m *mover) chipOf(output string) string {
	if k, ok := m.wiring.Relay(output); ok {
		return k.Coil.Chip
	}
	if s, ok := m.wiring.Select(output); ok {
		return s.Pin.Chip
	}
	return ""
}

// empty lets the bleeder empty VBUS to where it counts as off.
func (m *mover) empty() {
	off := m.wiring.Guard.Safe0V.SI
	farads := m.product.Port.Capacitance.Nominal
	if m.volts <= off || m.bleeder <= 0 {
		return
	}
	m.add(Component{Cause: Emptying, Seconds: m.bleeder * farads.SI * math.Log(m.volts/off),
		How: fmt.Sprintf("%s · %s · ln(%s / %s): bleeder, capacitance of the product, from its lock-out to off (wiring)",
			m.bleeds, farads.Text(3), quantity.Volts(m.volts).Text(3), quantity.Volts(off).Text(3))})
}

// fedVolts is what VBUS stands at when a feed went off: the charger takes it to
// its lock-out at once.
func (r *Rig) fedVolts() float64 {
	if v := r.product.Charger.LockoutStop.Nominal.SI; v > 0 {
		return v
	}
	for _, s := range r.wiring.Supplies {
		if s.Kind == wiring.LegacyA {
			return s.Volts.Nominal.SI
		}
	}
	return 0
}

// leaves is what VBUS stands at when a state is left.
func (r *Rig) leaves(s wiring.State) float64 {
	switch {
	case len(s.Feed) > 0:
		return r.fedVolts()
	case s.Setting.Condition == bench.ProbeVbus:
		return r.pace.Top.SI
	}
	return 0
}

func seconds(d time.Duration) float64 { return d.Seconds() }
