package twin

import (
	"time"

	"sinkproof/bench/typec"
)

// attacher and giver let the two instants of the state machine act.
type (
	attacher struct{ *cSupply }
	giver    struct{ *cSupply }
)

// decide moves the state machine after a look at the pins.
func (c *cSupply) decide(now time.Duration, changed bool) {
	switch c.state {
	case unattached:
		if c.sink() {
			c.debounce(now)
		}
	case attachWait, bleedWait:
		switch {
		case !c.sink():
			c.leave(unattached)
		case changed:
			c.debounce(now)
		}
	case attached:
		c.hold(now)
	}
}

// sink tells whether the pins show a sink and nothing else: the table of
// source connection states.
func (c *cSupply) sink() bool {
	a := typec.Attach(c.pins[0].seen, c.pins[1].seen)
	return a.VBUS && !c.dead
}

// debounce starts tCCDebounce.
func (c *cSupply) debounce(now time.Duration) {
	c.leave(attachWait)
	c.timer.Set(now + drawTime(c.chance, typec.TCCDebounce()))
}

// leave goes to another state and ends what belonged to the old one.
func (c *cSupply) leave(to attachState) {
	c.timer.Stop()
	c.opened = false
	if c.state == bleedWait {
		c.endBleed()
	}
	c.state = to
}

// startBleed bleeds the output until it is below a level.
func (c *cSupply) startBleed(level float64) {
	c.endBleed()
	if c.t.sim.Volts(c.vbus) <= level {
		return
	}
	c.bleeds, c.waits, c.coldLevel = true, true, level
	c.cold = c.t.watch(c.vbus, level, false, c)
	c.apply()
}

// endBleed switches the bleeder off.
func (c *cSupply) endBleed() {
	if c.waits {
		c.t.unwatch(c.cold)
	}
	if c.bleeds || c.waits {
		c.bleeds, c.waits = false, false
		c.apply()
	}
}

// tryAttach attaches when VBUS is cold, and otherwise waits for that: the
// bleeder is on.
func (c *cSupply) tryAttach(now time.Duration) {
	safe := typec.VSafe0V().Max.SI
	if c.t.sim.Volts(c.vbus) > safe {
		c.state = bleedWait
		c.startBleed(safe)
		return
	}
	c.attach(now)
}

// attach goes to the attached state; VBUS follows within tVBUSON.
func (c *cSupply) attach(now time.Duration) {
	c.leave(attached)
	c.endBleed()
	c.active = 0
	if c.pins[1].seen == typec.Rd {
		c.active = 1
	}
	// VCONN is due within 2 ms and may come before VBUS; it comes at once.
	c.vconn = c.pins[1-c.active].seen == typec.Ra
	c.apply()
	most := typec.TVBUSOn().Max.SI - outputRise.Seconds()
	c.comes.Set(now + seconds(between(c.chance, 0, most)) + c.late)
}

// hold watches an attached sink: SRC.Open on its pin, longer than
// tSRCDisconnect, ends it.
func (c *cSupply) hold(now time.Duration) {
	open := c.pins[c.active].seen == typec.Open
	switch {
	case open && !c.opened:
		c.opened = true
		c.timer.Set(now + drawTime(c.chance, typec.TSRCDisconnect()))
	case !open && c.opened:
		c.opened = false
		c.timer.Stop()
	}
}

// Due ends a debounce, sees a sink go, or switches the output off.
func (a attacher) Due(now time.Duration) {
	c := a.cSupply
	switch c.state {
	case attachWait:
		c.tryAttach(now)
	case attached:
		c.comes.Stop()
		c.leave(detaching)
		if !c.given {
			c.timer.Set(now)
			return
		}
		c.timer.Set(now + seconds(between(c.chance, 0, switchOffMost.Seconds())) + c.lingers)
	case detaching:
		c.leave(unattached)
		c.given, c.vconn = false, false
		c.apply()
		c.startBleed(bledVolts)
		c.look(now)
	}
}

// Due gives VBUS.
func (g giver) Due(time.Duration) {
	if g.state == attached {
		g.given = true
		g.apply()
	}
}
