package twin

import (
	"math"
	"math/rand/v2"
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
)

// How a portable supply that is off notices a load. Common practice of small
// batteries with a port, no source: the idle output is held through a high
// resistance, and an output that falls well below where it stood means that
// something was plugged in. 1 MΩ leaves a unit of 100 kΩ below vSafe0V.
const (
	idleOhms   = 1e6
	idleFall   = 0.6  // of the settled level: a load has come
	idleRise   = 1.25 // of the settled level, plus idleStep: it has gone
	idleStep   = 0.1
	idleSettle = 100 * time.Millisecond
	wakeLeast  = 5 * time.Millisecond
	wakeMost   = 50 * time.Millisecond
	// slackShare is how far below its threshold a load must fall to count as
	// gone. Without a gap between the two levels, a load that only touches the
	// threshold would be taken for one that went away.
	slackShare = 0.95
	// loadConfirm is how long a load must last to count: the pulses with which
	// a charger without a cell looks for one do not keep a battery awake.
	loadConfirm = 10 * time.Millisecond
)

// portable is a battery with a port that switches itself off when the load
// stays below its wake threshold for its patience.
type portable struct {
	supply
	node   circuit.Node
	hold   circuit.ElementID // the resistance of the idle output
	chance *rand.Rand

	on       bool
	waking   bool
	settled  bool    // level is where the idle output stands
	level    float64 // of the idle output
	slack    bool    // the load is below the threshold
	timer    timer
	confirm  timer // when a load counts
	watches  [2]circuit.WatchID
	watching bool
}

func newPortable(t *Twin, w *wiring.Supply) *portable {
	p := &portable{supply: *newSupply(t, w), chance: stream(t.config.Seed, "supply wake", w.Name)}
	t.queue.actors[p.ready.slot] = p
	p.timer = t.queue.add(portableTimer{p})
	p.confirm = t.queue.add(portableLoad{p})
	return p
}

// portableTimer and portableLoad let the supply's own instants act.
type (
	portableTimer struct{ *portable }
	portableLoad  struct{ *portable }
)

// draft adds the output and what holds it while it is off.
func (p *portable) draft(n *circuit.Netlist) {
	p.node = p.t.node(n, p.w.Vbus)
	p.out = n.LimitedSupply(p.w.Name, p.node, circuit.Ground, 0, max(leastOhms, p.w.Output.SI), 0, false)
	p.hold = n.LimitedSupply(p.w.Name+".idle", p.node, circuit.Ground, 0, idleOhms, 0, false)
}

// connect goes on in a new circuit.
func (p *portable) connect() {
	p.watching = false
	p.apply()
	if !p.on {
		p.idle(p.t.now)
	} else {
		p.watchLoad()
	}
}

// apply sets the circuit to the present state.
func (p *portable) apply() {
	sim, volts := p.t.sim, p.volts*(1+p.drift)
	p.t.check(sim.SetVolts(p.out, volts))
	p.t.check(sim.SetAmperes(p.out, p.limit()))
	p.t.check(sim.SetEnabled(p.out, p.on && !p.dead))
	p.t.check(sim.SetVolts(p.hold, volts))
	p.t.check(sim.SetAmperes(p.hold, volts/idleOhms))
	p.t.check(sim.SetEnabled(p.hold, !p.on && !p.dead))
}

// Due takes a change from outside, such as a fault.
func (p *portable) Due(time.Duration) { p.apply() }

// idle waits until the output that is off has settled.
func (p *portable) idle(now time.Duration) {
	p.forget()
	p.settled, p.waking = false, false
	p.timer.Set(now + idleSettle)
}

// Due wakes, settles or gives up, whichever was waited for.
func (x portableTimer) Due(now time.Duration) {
	p := x.portable
	switch {
	case p.waking:
		p.waking, p.on = false, true
		p.apply()
		p.slack = true
		p.timer.Set(now + p.patience())
		p.watchLoad()
	case p.on && p.slack:
		p.on = false
		p.confirm.Stop()
		p.apply()
		p.idle(now)
	case !p.on:
		p.settle(now)
	}
}

// settle notes where the idle output stands once it has stopped moving, and
// waits for it to move again.
func (p *portable) settle(now time.Duration) {
	before := p.level
	p.level = p.t.sim.Volts(p.node)
	if math.Abs(p.level-before) > 0.05*p.level+0.01 {
		p.timer.Set(now + idleSettle)
		return
	}
	p.settled = true
	p.forget()
	p.watches[0] = p.t.watch(p.node, p.level*idleFall, false, p)
	p.watches[1] = p.t.watch(p.node, p.level*idleRise+idleStep, true, p)
	p.watching = true
}

// watchLoad waits for the output current to cross the wake threshold: behind
// its series resistance that is a voltage of the output.
func (p *portable) watchLoad() {
	p.forget()
	drop := p.w.Wake.SI * max(leastOhms, p.w.Output.SI)
	open := p.volts * (1 + p.drift)
	p.watches[0] = p.t.watch(p.node, open-drop, false, p)
	p.watches[1] = p.t.watch(p.node, open-slackShare*drop, true, p)
	p.watching = true
	p.measure(p.t.now)
}

func (p *portable) forget() {
	if p.watching {
		p.t.unwatch(p.watches[0])
		p.t.unwatch(p.watches[1])
		p.watching = false
	}
}

// patience is how long a small load is borne.
func (p *portable) patience() time.Duration { return seconds(p.w.Patience.SI) }

// crossed follows the load while on and the idle output while off.
func (p *portable) crossed(now time.Duration) {
	if p.on {
		p.measure(now)
		return
	}
	if !p.settled || p.waking {
		return
	}
	if v := p.t.sim.Volts(p.node); v > p.level {
		p.idle(now)
		return
	}
	p.waking = true
	p.forget()
	p.timer.Set(now + p.late + seconds(between(p.chance, wakeLeast.Seconds(), wakeMost.Seconds())))
}

// measure compares the load with the threshold; the patience begins when it
// falls below. It is called at one of the two levels, so the comparison in the
// middle between them is safe from rounding.
func (p *portable) measure(now time.Duration) {
	if p.t.sim.Amperes(p.out) >= p.w.Wake.SI*(1+slackShare)/2 {
		p.confirm.Set(now + loadConfirm)
		return
	}
	p.confirm.Stop()
	if !p.slack {
		p.slack = true
		p.timer.Set(now + p.patience())
	}
}

// Due counts a load that has lasted.
func (x portableLoad) Due(time.Duration) {
	if x.on {
		x.slack = false
		x.timer.Stop()
	}
}
