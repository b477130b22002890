package twin

import "time"

// coils is the supply of the relay coils with its safety chain: a monostable
// that every edge of the heartbeat feeds, a latch that an arm pulse sets, and
// the emergency stop and the lid in series.
type coils struct {
	on      bool
	stopped bool
	lidOpen bool

	gap      time.Duration // longest gap between heartbeat edges
	shortest time.Duration // shortest arm pulse
	beating  bool          // the monostable is set
	watch    timer         // when the monostable may fall back
	arm      timer         // when an arm pulse has been long enough
	changed  func(now time.Duration)

	// By faults: the monostable never falls back; the supply never comes;
	// the contact of the stop or the lid does not cut.
	stuck, dead bool
	bypassed    map[lineUse]bool
}

// beat feeds the monostable.
func (c *coils) beat(now time.Duration) {
	c.beating = true
	c.watch.Set(now + c.gap)
}

// pulse follows the arm line. It restores the supply once per pulse.
func (c *coils) pulse(now time.Duration, active bool) {
	if active {
		c.arm.Set(now + c.shortest)
	} else {
		c.arm.Stop()
	}
}

// monostable and armed let the two instants act.
type (
	monostable struct{ *coils }
	armed      struct{ *coils }
)

// Due drops the supply when the heartbeat has been missing for too long.
func (m monostable) Due(now time.Duration) {
	if m.stuck {
		m.watch.Set(now + m.gap)
		return
	}
	m.beating = false
	m.drop(now)
}

// Due restores the supply when nothing speaks against it.
func (a armed) Due(now time.Duration) {
	if a.on || a.dead || !a.beating || a.stopped && !a.bypassed[stopLine] || a.lidOpen && !a.bypassed[lidLine] {
		return
	}
	a.on = true
	a.changed(now)
}

// drop cuts the supply; only an arm pulse brings it back.
func (c *coils) drop(now time.Duration) {
	if !c.on {
		return
	}
	c.on = false
	c.changed(now)
}

// stop presses or releases the emergency stop.
func (c *coils) stop(now time.Duration, pressed bool) {
	if c.stopped = pressed; pressed && !c.bypassed[stopLine] {
		c.drop(now)
	}
}

// lid opens or closes the lid.
func (c *coils) lid(now time.Duration, open bool) {
	if c.lidOpen = open; open && !c.bypassed[lidLine] {
		c.drop(now)
	}
}
