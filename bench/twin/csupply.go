package twin

import (
	"math/rand/v2"
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/quantity"
	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
)

// attachState is where a C supply stands: the source state machine of the USB
// Type-C specification, reduced to what a supply without power delivery does.
type attachState int8

const (
	unattached attachState = iota
	attachWait             // a sink is seen and being debounced
	bleedWait              // debounced, but VBUS is not cold yet
	attached               // VBUS is on or on its way
	detaching              // the sink is gone, VBUS is still on
)

// String names the state.
func (a attachState) String() string {
	return [...]string{"unattached", "attach wait", "waiting for a cold VBUS", "attached", "detaching"}[a]
}

const (
	// outputRise is kept off tVBUSON for what the output takes to rise
	// through a feed switch of 1.2 A into 100 µF.
	outputRise = 5 * time.Millisecond
	// switchOffMost is the part of tVBUSOFF (650 ms in all) that passes before
	// the output is off and bled; the rest belongs to the bleeder: 10 µF and
	// 3 kΩ take 58 ms.
	switchOffMost = 100 * time.Millisecond
	// vconnOhms and vconnLimit stand for a small VCONN switch: common
	// practice, no source.
	vconnVolts = 5.0
	vconnOhms  = 0.5
	vconnLimit = 0.3
	// rpSiemens is how sharply a pull-up current ends at its rail.
	rpSiemens = 1e-3
	// defaultBleed empties the output of a supply whose file states nothing:
	// a tenth of what empties 10 µF within tVBUSOFF.
	defaultBleed = 3.3e3
	// sourceLeak loads the output at all times: a little above the least that
	// the standard allows (72.4 kΩ).
	sourceLeak = 100e3
	// bledVolts ends the bleeding after a detach.
	bledVolts = 0.4
)

// ccPin is one CC pin of the supply.
type ccPin struct {
	node        circuit.Node
	pull, vconn circuit.ElementID
	seen        typec.Termination // Ra, Rd or Open
	low, high   circuit.WatchID   // the thresholds that are being watched
	watching    bool
}

// cSupply applies VBUS only while it sees a sink.
type cSupply struct {
	supply
	pins  [2]ccPin
	bleed circuit.ElementID
	vbus  circuit.Node
	cold  circuit.WatchID
	// coldLevel is what the cold watch waits for.
	coldLevel float64
	waits     bool // the cold watch is set
	bleeds    bool // the bleeder is on
	chance    *rand.Rand
	pulls     [3]float64 // the pull-up currents of this piece
	below     [3]float64 // its comparators between Ra and Rd
	above     [3]float64 // and between Rd and open

	state  attachState
	active int // the pin that carries the sink
	opened bool
	given  bool // VBUS is on
	vconn  bool
	timer  timer // of the state
	comes  timer // when VBUS comes
}

// advertisements in the order of typec's own.
func advertisements() [3]typec.Advertisement {
	return [3]typec.Advertisement{typec.Default, typec.A1500, typec.A3000}
}

func newCSupply(t *Twin, w *wiring.Supply) *cSupply {
	c := &cSupply{supply: *newSupply(t, w), chance: stream(t.config.Seed, "supply attach", w.Name)}
	t.queue.actors[c.ready.slot] = c
	piece := stream(t.config.Seed, "supply cc", w.Name)
	for i, a := range advertisements() {
		c.pulls[i] = in(piece, typec.Rp(a, typec.CurrentSource))
		c.below[i] = in(piece, typec.RaThreshold(a))
		c.above[i] = in(piece, typec.OpenThreshold(a))
	}
	c.timer = t.queue.add(attacher{c})
	c.comes = t.queue.add(giver{c})
	return c
}

// in draws uniformly between the limits of a range.
func in(r *rand.Rand, x typec.Range) float64 { return between(r, x.Min.SI, x.Max.SI) }

// drawTime draws a time between the limits of a range.
func drawTime(r *rand.Rand, x typec.Range) time.Duration { return seconds(in(r, x)) }

// offer returns the advertisement of the present level.
func (c *cSupply) offer() int {
	if len(c.w.Levels) == 0 {
		return 0
	}
	switch a := c.w.Levels[c.level].Value; {
	case a.Dim != quantity.Current || a.SI < 1.0:
		return 0
	case a.SI < 2.0:
		return 1
	}
	return 2
}

// draft adds the output with its bleeder and both CC pins, all giving
// nothing.
func (c *cSupply) draft(n *circuit.Netlist) {
	c.vbus = c.t.node(n, c.w.Vbus)
	name, bleed := c.w.Name, c.w.Bleed.SI
	if bleed <= 0 {
		bleed = defaultBleed
	}
	c.out = n.LimitedSupply(name, c.vbus, circuit.Ground, 0, max(leastOhms, c.w.Output.SI), 0, false)
	c.bleed = n.Switch(name+".bleed", c.vbus, circuit.Ground, bleed)
	n.Resistor(name+".leak", c.vbus, circuit.Ground, sourceLeak)
	for i, net := range []string{c.w.CC1, c.w.CC2} {
		p := &c.pins[i]
		pin := name + [...]string{".cc1", ".cc2"}[i]
		if net == "" {
			net = pin
		}
		p.node = c.t.node(n, net)
		p.pull = n.LimitedCurrentSource(pin+".rp", p.node, circuit.Ground, 0, vconnVolts, rpSiemens)
		p.vconn = n.LimitedSupply(pin+".vconn", p.node, circuit.Ground, 0, vconnOhms, 0, false)
	}
}

// connect goes on in a new circuit with the state of the old one.
func (c *cSupply) connect() {
	c.waits = false
	for i := range c.pins {
		c.pins[i].watching = false
		c.t.check(c.t.sim.SetVolts(c.pins[i].vconn, vconnVolts))
		c.t.check(c.t.sim.SetAmperes(c.pins[i].vconn, vconnLimit))
	}
	c.apply()
	if c.bleeds {
		c.startBleed(c.coldLevel)
	}
	c.look(c.t.now)
}

// apply sets the circuit to the present state.
func (c *cSupply) apply() {
	sim := c.t.sim
	c.t.check(sim.SetVolts(c.out, c.volts*(1+c.drift)))
	c.t.check(sim.SetAmperes(c.out, c.limit()))
	c.t.check(sim.SetEnabled(c.out, c.given && !c.dead))
	c.t.check(sim.SetSwitch(c.bleed, c.bleeds && !c.given && !c.dead))
	for i := range c.pins {
		p, vconn := &c.pins[i], c.vconn && i != c.active && !c.dead
		c.t.check(sim.SetEnabled(p.vconn, vconn))
		c.t.check(sim.SetAmperes(p.pull, c.pulls[c.offer()]))
		c.t.check(sim.SetEnabled(p.pull, !vconn && !c.dead))
	}
}

// Due takes a new level of the selects.
func (c *cSupply) Due(now time.Duration) {
	c.apply()
	for i := range c.pins {
		c.forget(&c.pins[i])
	}
	c.look(now)
}

// crossed looks again when a voltage has crossed a threshold.
func (c *cSupply) crossed(now time.Duration) {
	if c.waits && c.t.sim.Beyond(c.cold) {
		// Cold as measured now: the bleeder's end lifts it a little again.
		cold := c.state == bleedWait
		c.endBleed()
		if cold {
			c.attach(now)
		}
	}
	c.look(now)
}

// look reads both CC pins and moves on.
func (c *cSupply) look(now time.Duration) {
	changed := false
	for i := range c.pins {
		p := &c.pins[i]
		if seen := c.classify(p); seen != p.seen || !p.watching {
			changed = changed || seen != p.seen
			p.seen = seen
			c.watch(p)
		}
	}
	c.decide(now, changed)
}

// classify compares a pin with the two comparators.
func (c *cSupply) classify(p *ccPin) typec.Termination {
	switch v := c.t.sim.Volts(p.node); {
	case v < c.below[c.offer()]:
		return typec.Ra
	case v <= c.above[c.offer()]:
		return typec.Rd
	}
	return typec.Open
}

// watch asks for the next crossing that would change what a pin shows.
func (c *cSupply) watch(p *ccPin) {
	c.forget(p)
	low, high := c.below[c.offer()], c.above[c.offer()]
	p.watching = true
	switch p.seen {
	case typec.Ra:
		p.low = c.t.watch(p.node, low, true, c)
		p.high = -1
	case typec.Rd:
		p.low = c.t.watch(p.node, low, false, c)
		p.high = c.t.watch(p.node, high, true, c)
	default:
		p.low = -1
		p.high = c.t.watch(p.node, high, false, c)
	}
}

func (c *cSupply) forget(p *ccPin) {
	if p.watching {
		c.t.unwatch(p.low)
		c.t.unwatch(p.high)
		p.watching = false
	}
}
