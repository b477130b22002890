package twin

import (
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
)

// The indicator as the rig sees it.
const (
	lampVolts  = 1.9   // forward voltage of a red or yellow lamp: common practice
	lampDark   = 50.0  // a threshold that VBUS never reaches
	lampOhms   = 1.0   // its slope
	lampSiemen = 1e-9  // leak
	lampSupply = 5.0   // at which the product file states the current
	darkShare  = 0.005 // of the lit level: light from around
	sensorTop  = 4.8   // where the light sensor saturates on its 5 V
)

// lamp is the indicator of a unit: a lamp on VBUS that the charger switches,
// and the current that it drives through the light sensor of the rig.
type lamp struct {
	u      *unit
	timer  timer
	fitted bool
	diode  circuit.ElementID // with its resistor; its threshold is out of reach while dark
	sensor circuit.ElementID
	seen   bool    // the rig has a sensor
	full   float64 // amperes through the sensor when lit
	mode   string  // "on", "off", "blinking"
	lit    bool
}

func (l *lamp) draft(n *circuit.Netlist) {
	b := l.u.b
	l.fitted = b.product.Indicator.Fitted && b.lamp > 0
	if l.fitted {
		l.diode = n.Diode("unit.lamp", l.u.vbus, l.u.gnd, lampDark, (lampSupply-lampVolts)/b.lamp+lampOhms, lampSiemen)
	}
	for _, pin := range l.u.t.config.Wiring.Nest.Pins {
		if pin.Pin != wiring.PinLight {
			continue
		}
		l.seen = true
		l.full = b.light / l.u.t.sensorOhms(pin.Net)
		l.sensor = n.LimitedCurrentSource("unit.light", l.u.t.node(n, pin.Net), circuit.Ground, 0, sensorTop, 0.01)
	}
}

func (l *lamp) connect() {
	l.mode, l.lit = "", true
	l.shine(false)
	l.follow(l.u.t.now)
}

// follow takes the phase of the charger.
func (l *lamp) follow(now time.Duration) {
	i := &l.u.b.product.Indicator
	mode := "off"
	if charging, done := l.u.charging(); i.Fitted && charging {
		mode = i.Charging
	} else if i.Fitted && done {
		mode = i.Done
	}
	if mode == l.mode {
		return
	}
	l.mode = mode
	l.timer.Stop()
	l.shine(mode == "on" || mode == "blinking")
	if mode == "blinking" && l.u.b.blink > 0 {
		l.timer.Set(now + seconds(l.u.b.blink/2))
	}
}

// Due blinks: half of the period lit, half dark.
func (l *lamp) Due(now time.Duration) {
	l.shine(!l.lit)
	l.timer.Set(now + seconds(l.u.b.blink/2))
}

// shine switches the lamp.
func (l *lamp) shine(lit bool) {
	if lit == l.lit {
		return
	}
	l.lit = lit
	t := l.u.t
	if l.fitted {
		volts := lampDark
		if lit {
			volts = lampVolts
		}
		t.check(t.sim.SetVolts(l.diode, volts))
	}
	if !l.seen {
		return
	}
	i := l.full * darkShare
	if lit {
		i = l.full
	}
	t.check(t.sim.SetAmperes(l.sensor, i))
}
