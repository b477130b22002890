package twin

import (
	"time"

	"sinkproof/bench/circuit"
)

// How a charger asks its data lines for a charging port (USB Battery Charging
// 1.2, primary detection, from memory): it puts 0.6 V on D+, loads D- with
// about 100 µA, and takes D- above 0.25 to 0.4 V for a port that joins the two.
const (
	askVolts = 0.6
	askOhms  = 300.0
	askLimit = 250e-6
	askLoad  = 6e3
	askLevel = 0.325
	askTime  = 40 * time.Millisecond
	askLeast = 10e-3 // s, from a good VBUS to the question
	askMost  = 50e-3
)

// asker is the charger's question to the data lines.
type asker struct {
	u      *unit
	timer  timer
	delay  time.Duration
	source circuit.ElementID
	load   circuit.ElementID
	good   circuit.WatchID // VBUS above the lock-out's start
	bad    circuit.WatchID // VBUS below its stop
	stage  int8            // 0 no VBUS, 1 before the question, 2 asking, 3 answered
}

func (a *asker) draw() {
	r := unitStream(a.u.t.units, a.u.b.serial, "question")
	a.delay = seconds(between(r, askLeast, askMost))
}

func (a *asker) draft(n *circuit.Netlist) {
	if !a.u.b.asks {
		return
	}
	a.source = n.LimitedSupply("unit.question", a.u.data[0], a.u.gnd, 0, askOhms, 0, false)
	a.load = n.Switch("unit.question.load", a.u.data[1], a.u.gnd, askLoad)
}

func (a *asker) connect() {
	if !a.u.b.asks {
		return
	}
	t := a.u.t
	t.check(t.sim.SetVolts(a.source, askVolts))
	t.check(t.sim.SetAmperes(a.source, askLimit))
	t.check(t.sim.SetEnabled(a.source, false))
	a.good = t.watch(a.u.vbus, a.u.b.charger.StartVolts, true, a)
	a.bad = t.watch(a.u.vbus, a.u.b.charger.StopVolts, false, a)
	a.crossed(t.now)
}

// crossed follows VBUS over the charger's lock-out.
func (a *asker) crossed(now time.Duration) {
	sim := a.u.t.sim
	switch {
	case a.stage == 0 && sim.Beyond(a.good):
		a.stage = 1
		a.timer.Set(now + a.delay)
	case a.stage > 0 && sim.Beyond(a.bad):
		a.stage = 0
		a.timer.Stop()
		a.ask(false)
		a.enable(false, false)
	}
}

// Due asks, or takes the answer.
func (a *asker) Due(now time.Duration) {
	switch a.stage {
	case 1:
		a.stage = 2
		a.ask(true)
		a.timer.Set(now + askTime)
	case 2:
		a.stage = 3
		sim := a.u.t.sim
		shorted := sim.Volts(a.u.data[1])-sim.Volts(a.u.gnd) > askLevel
		a.ask(false)
		a.enable(shorted, !shorted)
	}
}

func (a *asker) ask(on bool) {
	t := a.u.t
	t.check(t.sim.SetEnabled(a.source, on))
	t.check(t.sim.SetSwitch(a.load, on))
}

// enable lets one of the two chargers work.
func (a *asker) enable(fast, slow bool) {
	t := a.u.t
	t.check(t.sim.SetEnabled(a.u.charger, fast))
	t.check(t.sim.SetEnabled(a.u.slow, slow))
	a.u.notice(t.now)
}
