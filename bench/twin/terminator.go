package twin

import (
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/typec"
	"sinkproof/fixtures/product"
)

// Parts of a port controller.
const (
	clampOhms   = 100.0 // slope of the dead-battery clamp: keeps it within 0.88 to 1.32 V up to 0.3 mA
	clampAway   = 50.0  // a threshold that is never reached: no clamp
	powerDelay  = time.Millisecond
	powerUp     = 3.0 // V on VBUS at which a controller works: common practice
	powerDown   = 2.5
	cellUp      = 2.6 // V of the cell that powers a dual-role port
	cellDown    = 2.4
	roleSettle  = time.Millisecond // after a change of role before it looks
	roleVolts   = 3.3              // rail of a dual-role port's pull-ups
	connectLeft = 0.2              // V: above it a sink sees a source
	lookStage   = 9                // a dual-role port is about to look
)

// terminator is what stands on the CC pins: plain resistors, a controller
// with a clamp while it has no power, or a dual-role port.
type terminator struct {
	u     *unit
	timer timer
	kind  product.TerminationKind

	down  [2]circuit.ElementID // Rd behind a switch
	clamp [2]circuit.ElementID
	up    [2]circuit.ElementID // Rp of a dual-role port

	good, bad circuit.WatchID // VBUS enough for a controller, or too little
	flat      circuit.WatchID // the cell too low for a dual-role port

	powered  bool
	kept     int  // the only pin that keeps Rd once attached; -1 for both
	toggling bool // a dual-role port with no partner
	source   bool // it shows Rp now
	period   time.Duration
	stage    int8 // of the controller: 0 idle, 1 power settling, 2 looking for its partner
}

func (c *terminator) draw() {
	c.kind = c.u.b.product.Terminations.Kind
	c.period = seconds(c.u.b.toggle)
	c.kept = -1
}

func (c *terminator) draft(n *circuit.Netlist) {
	b := c.u.b
	for i := range c.down {
		name, cc := [...]string{"unit.cc1", "unit.cc2"}[i], c.u.cc[i]
		if c.kind == product.Resistors {
			optional(n, name+".rd", cc, c.u.gnd, b.rd[i])
			continue
		}
		c.down[i] = n.Switch(name+".rd", cc, c.u.gnd, b.rd[i])
		c.clamp[i] = n.Clamp(name+".clamp", cc, c.u.gnd, clampAway, clampOhms)
		c.up[i] = n.LimitedCurrentSource(name+".rp", cc, c.u.gnd, 0, roleVolts, rpSiemens)
	}
}

func (c *terminator) connect() {
	if c.kind == product.Resistors {
		return
	}
	t := c.u.t
	for i := range c.up {
		t.check(t.sim.SetAmperes(c.up[i], typec.Rp(typec.Default, typec.CurrentSource).Typ.SI))
	}
	c.good = t.watch(c.u.vbus, powerUp, true, c)
	c.bad = t.watch(c.u.vbus, powerDown, false, c)
	if c.kind == product.DualRole {
		t.watch(c.u.cell, cellUp, true, c)
		c.flat = t.watch(c.u.cell, cellDown, false, c)
		for i := range c.u.cc {
			t.watch(c.u.cc[i], connectLeft, true, c)
			t.watch(c.u.cc[i], connectLeft, false, c)
		}
	}
	c.show()
	c.crossed(t.now)
}

// show sets the circuit to the present state.
func (c *terminator) show() {
	t := c.u.t
	dead := c.kind == product.Controller && !c.powered
	for i := range c.down {
		rd := !dead && !c.source && (c.kept < 0 || c.kept == i)
		t.check(t.sim.SetSwitch(c.down[i], rd))
		t.check(t.sim.SetEnabled(c.up[i], c.source))
		threshold := clampAway
		// A controller whose termination is missing has lost its clamp with
		// it: the fault is in the joint to the pin.
		if dead && c.u.b.rd[i] < openLeast {
			threshold = c.u.b.clamp[i]
		}
		t.check(t.sim.SetVolts(c.clamp[i], threshold))
	}
}

// crossed follows VBUS, the cell and the CC pins.
func (c *terminator) crossed(now time.Duration) {
	if c.kind == product.DualRole {
		c.role(now)
		return
	}
	sim := c.u.t.sim
	switch {
	case !c.powered && c.stage == 0 && sim.Beyond(c.good):
		c.stage = 1
		c.timer.Set(now + powerDelay)
	case sim.Beyond(c.bad) && (c.powered || c.stage > 0):
		c.powered, c.kept, c.stage = false, -1, 0
		c.timer.Stop()
		c.show()
	}
}

// Due takes the next step of a controller or of a toggling port.
func (c *terminator) Due(now time.Duration) {
	if c.kind == product.DualRole {
		c.toggle(now)
		return
	}
	switch c.stage {
	case 1:
		c.powered, c.stage = true, 2
		c.show()
		c.timer.Set(now + seconds(typec.TCCDebounce().Max.SI))
	case 2:
		// Attached, a sink keeps Rd only on the pin that carries Rp.
		c.stage = 3
		one, two := c.connected(0), c.connected(1)
		if one != two {
			c.kept = 0
			if two {
				c.kept = 1
			}
			c.show()
		}
	}
}

// connected tells whether a pin shows a source.
func (c *terminator) connected(i int) bool {
	sim := c.u.t.sim
	return sim.Volts(c.u.cc[i])-sim.Volts(c.u.gnd) > connectLeft
}

// role decides whether a dual-role port toggles: it does with power from its
// cell and no partner.
func (c *terminator) role(now time.Duration) {
	alive := !c.u.t.sim.Beyond(c.flat)
	partner := !c.source && (c.connected(0) || c.connected(1))
	switch toggle := alive && !partner; {
	case toggle && !c.toggling:
		c.toggling = true
		c.timer.Set(now + seconds(typec.TPDDebounce().Max.SI))
	case !toggle && c.toggling:
		c.toggling, c.source, c.stage = false, false, 0
		c.timer.Stop()
		c.show()
	}
}

// toggle changes the role of a port without a partner. A port that has just
// become a sink looks for a source when its pins have settled.
func (c *terminator) toggle(now time.Duration) {
	if !c.toggling {
		return
	}
	if c.stage == lookStage {
		c.stage = 0
		rest := c.period - time.Duration(float64(c.period)*c.u.b.duty) - roleSettle
		c.timer.Set(now + max(rest, roleSettle))
		c.role(now)
		return
	}
	c.source = !c.source
	c.show()
	if c.source {
		c.timer.Set(now + time.Duration(float64(c.period)*c.u.b.duty))
		return
	}
	c.stage = lookStage
	c.timer.Set(now + roleSettle)
}
