package twin

import (
	"errors"
	"fmt"
	"strconv"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench"
	"sinkproof/bench/circuit"
	"sinkproof/bench/twin/chips"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// Config is what a twin is made from.
type Config struct {
	Wiring  *wiring.Rig
	Product *product.Product
	Seed    uint64
	// Pace, when set, is told every instant before the twin goes there: a
	// demonstration in real time waits in it.
	Pace func(at time.Duration)
	// Base, when set, gives the time instead of the virtual clock.
	Base Timebase
	// Memory, when set, is taken over from a twin that was retired.
	Memory *Memory
}

// ErrConfig is the cause when a twin cannot be made of what was given.
var ErrConfig = errors.New("incomplete configuration")

// Twin is a simulated rig with one nest, or one nest of a Rig.
type Twin struct {
	config Config
	units  uint64 // seed of the units, which are the same in every nest
	base   Timebase
	jumps  *virtual      // the base, where it is virtual and unpaced
	now    time.Duration // what has been played; behind the present while nobody looks
	came   time.Duration // the present, where time does not jump
	queue  queue

	empty      *circuit.Netlist // of the rig without a unit
	netlist    *circuit.Netlist
	sim        *circuit.Sim
	memory     *Memory
	origin     time.Duration // instant zero of sim
	capacitors []capacitor
	parts      []parts
	watchers   []watcher
	failure    error
	quiet      float64 // the instant of sim up to which it was asked for events

	coils    coils
	switches [2]interrupter // the stop and the lid
	relays   []*relay
	supplies []follower
	buses    []*bus
	lines    []*line
	chips    []*chip
	samplers []chips.Sampler
	adcs     map[string]*chips.ADC
	probes   map[string]*probe // by net

	unit       *unit
	receptacle *receptacle // the check receptacle, in place of a unit
	unitTimers [3]timer
	seatings   map[string]int
	selects    map[string]bool    // selects that do not move
	pins       map[string]float64 // contacts of the plug that are worn or open
}

// follower is a supply that listens to selects.
type follower interface {
	parts
	actor
	plain() *supply
}

// plain returns what all supplies have.
func (s *supply) plain() *supply { return s }

// New builds a rig with an empty nest. Its coil supply is latched off, as
// after power-up.
func New(c Config) (*Twin, error) {
	if c.Wiring == nil || c.Product == nil {
		return nil, fmt.Errorf("make a twin: wiring %t, product %t: %w", c.Wiring != nil, c.Product != nil, ErrConfig)
	}
	t := &Twin{
		config: c, units: c.Seed, base: c.Base, memory: c.Memory, adcs: map[string]*chips.ADC{}, probes: map[string]*probe{},
		seatings: map[string]int{}, pins: map[string]float64{}, selects: map[string]bool{},
	}
	if t.memory == nil {
		t.memory = &Memory{}
	}
	if t.base == nil {
		t.base = &virtual{pace: c.Pace}
	}
	if v, ok := t.base.(*virtual); ok && v.pace == nil {
		t.jumps = v
	}
	t.wireCoils()
	t.wireRelays()
	t.wireSupplies()
	for i := range t.unitTimers {
		t.unitTimers[i] = t.queue.add(nobody{})
	}
	t.draft()
	if err := t.rebuild(); err != nil {
		return nil, err
	}
	if err := t.wireBuses(); err != nil {
		return nil, err
	}
	return t, t.wireLines()
}

// nobody acts for a slot whose unit is not there.
type nobody struct{}

// Due does nothing.
func (nobody) Due(time.Duration) {}

func (t *Twin) wireCoils() {
	g := &t.config.Wiring.Guard
	t.coils = coils{bypassed: map[lineUse]bool{}, gap: seconds(g.BeatGap.SI), shortest: seconds(g.ArmPulse.SI), changed: t.coilsChanged}
	t.coils.watch = t.queue.add(monostable{&t.coils})
	t.coils.arm = t.queue.add(armed{&t.coils})
	for i, set := range []func(time.Duration, bool){t.coils.stop, t.coils.lid} {
		t.switches[i].set = set
		t.switches[i].timer = t.queue.add(&t.switches[i])
	}
}

// coilsChanged lets every relay follow the coil supply.
func (t *Twin) coilsChanged(now time.Duration) {
	for _, k := range t.relays {
		k.power(now)
	}
}

func (t *Twin) wireRelays() {
	for i := range t.config.Wiring.Relays {
		k := newRelay(t, &t.config.Wiring.Relays[i])
		t.relays = append(t.relays, k)
		t.parts = append(t.parts, k)
	}
}

func (t *Twin) wireSupplies() {
	for i := range t.config.Wiring.Supplies {
		w := &t.config.Wiring.Supplies[i]
		var s follower
		switch w.Kind {
		case wiring.CSupply:
			s = newCSupply(t, w)
		case wiring.Portable:
			s = newPortable(t, w)
		default:
			s = newSupply(t, w)
		}
		t.supplies = append(t.supplies, s)
		t.parts = append(t.parts, s)
	}
}

// Hardware returns the buses, the lines and the clock of the rig: everything
// that a bench can reach.
func (t *Twin) Hardware() bench.Hardware {
	hw := bench.Hardware{Buses: map[string]i2c.Bus{}, Lines: map[string]gpio.PinIO{}, Clock: t.clock()}
	for _, b := range t.buses {
		hw.Buses[b.name] = b
	}
	for _, l := range t.lines {
		hw.Lines[l.name] = l
	}
	return hw
}

// Seat draws the unit of a serial with its faults and puts it into the nest,
// in place of a unit that is there.
func (t *Twin) Seat(serial string, faults ...Fault) error {
	if err := Combine(faults...); err != nil {
		return fmt.Errorf("seat unit %s: %w", serial, err)
	}
	b := drawBoard(t.units, t.config.Product, serial)
	if err := b.damage(t.units, faults); err != nil {
		return fmt.Errorf("seat unit %s: %w", serial, err)
	}
	t.catchUp()
	t.clearUnit()
	t.seatings[serial]++
	t.unit = newUnit(t, b, t.seatings[serial])
	return t.rebuild()
}

// seatingName names the draws of one seating.
func seatingName(n int) string { return "seating " + strconv.Itoa(n) + " " }

// Unseat takes the unit, or the check receptacle, out of the nest.
func (t *Twin) Unseat() {
	if t.unit == nil && t.receptacle == nil {
		return
	}
	t.catchUp()
	t.clearUnit()
	t.check(t.rebuild())
}

// clearUnit withdraws what the unit in the nest was about to do.
func (t *Twin) clearUnit() {
	for _, timer := range t.unitTimers {
		timer.Stop()
	}
	t.unit, t.receptacle = nil, nil
}
