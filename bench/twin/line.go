package twin

import (
	"context"
	"errors"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"

	"sinkproof/bench/twin/chips"
	"sinkproof/bench/wiring"
)

// lineAccess is what reading or writing a digital line takes: common practice
// for a character device, no source.
const lineAccess = time.Microsecond

// lineUse is the use of a line as a number: a bench looks at its lines
// between any two transfers, and comparing texts would cost more than all else.
type lineUse int8

const (
	plainLine lineUse = iota
	stopLine
	lidLine
	beatLine
	armLine
	coilLine
	alertLine
)

// useOf converts the use that the wiring file states.
func useOf(w wiring.LineUse) lineUse {
	switch w {
	case wiring.EmergencyStop:
		return stopLine
	case wiring.Lid:
		return lidLine
	case wiring.Heartbeat:
		return beatLine
	case wiring.Arm:
		return armLine
	case wiring.CoilSupply:
		return coilLine
	case wiring.Alert:
		return alertLine
	}
	return plainLine
}

// line is one digital line of the computer.
type line struct {
	t         *Twin
	name      string
	use       lineUse
	activeLow bool
	alarm     chips.Alarm // for an alert line
	follows   *bool       // what makes an input active; nil for other lines
	edge      gpio.Edge
	pull      gpio.Pull
	driven    gpio.Level // of an output
	isOutput  bool
	stuck     bool
	stuckAt   gpio.Level
	others    []*Twin // the other nests, on a line that all share
}

var _ gpio.PinIO = (*line)(nil)

// errNoPWM is what a line without a modulator answers.
var errNoPWM = errors.New("this line has no pulse width modulator")

// String returns the name of the line.
func (l *line) String() string { return l.name }

// Name returns the name of the line.
func (l *line) Name() string { return l.name }

// Number returns -1: the line is known by its name.
func (l *line) Number() int { return -1 }

// Function says which way the line goes.
func (l *line) Function() string {
	if l.isOutput {
		return "Out"
	}
	return "In"
}

// Halt ends nothing: a line keeps its level.
func (l *line) Halt() error { return nil }

// In makes the line an input.
func (l *line) In(pull gpio.Pull, edge gpio.Edge) error {
	l.pull, l.edge, l.isOutput = pull, edge, false
	return l.pass()
}

// Pull returns the pull that In has set.
func (l *line) Pull() gpio.Pull { return l.pull }

// DefaultPull returns that nothing pulls.
func (l *line) DefaultPull() gpio.Pull { return gpio.Float }

// PWM is not there.
func (l *line) PWM(gpio.Duty, physic.Frequency) error { return errNoPWM }

// Out drives the line.
func (l *line) Out(level gpio.Level) error {
	if err := l.pass(); err != nil {
		return err
	}
	before := l.active(l.driven)
	l.isOutput, l.driven = true, level
	if l.stuck {
		return nil
	}
	switch after := l.active(level); {
	case after == before:
	case l.use == beatLine:
		l.t.coils.beat(l.t.present())
		for _, t := range l.others {
			t.coils.beat(t.meet())
		}
	case l.use == armLine:
		l.t.coils.pulse(l.t.present(), after)
	}
	return nil
}

// Read returns the level of the line. A run has some 10,000 of them.
func (l *line) Read() gpio.Level {
	if t := l.t; (t.failure != nil || !t.skip(lineAccess)) && l.pass() != nil {
		return gpio.Low
	}
	switch {
	case l.stuck || l.isOutput:
	case l.follows != nil:
		return gpio.Level(*l.follows != l.activeLow)
	case l.alarm != nil:
		return gpio.Level(!l.alarm.Alert(l.t.present()))
	}
	return l.level()
}

// WaitForEdge lets time pass until the level changes in the way that In asked
// for. A negative timeout waits for ever, but not beyond what happens by
// itself.
func (l *line) WaitForEdge(timeout time.Duration) bool {
	end := never
	if timeout >= 0 {
		end = l.t.base.Now() + timeout
	}
	for before := l.level(); ; {
		at := min(l.t.queue.next(), end, l.turn())
		if at == never || l.t.reach(context.Background(), at) != nil {
			return false
		}
		level := l.level()
		if level != before && l.wants(level) {
			return true
		}
		if before = level; at == end {
			return false
		}
	}
}

// turn returns when an alert line may change by itself; never for others.
func (l *line) turn() time.Duration {
	if l.use != alertLine || l.stuck || l.isOutput {
		return never
	}
	return l.alarm.Turn(l.t.present())
}

// wants tells whether a change to a level is an edge that was asked for.
func (l *line) wants(level gpio.Level) bool {
	switch l.edge {
	case gpio.RisingEdge:
		return level == gpio.High
	case gpio.FallingEdge:
		return level == gpio.Low
	case gpio.BothEdges:
		return true
	}
	return false
}

func (l *line) pass() error { return l.t.elapse(lineAccess) }

// active converts between level and meaning; it is its own inverse.
func (l *line) active(level gpio.Level) bool { return bool(level) != l.activeLow }

// level returns what stands on the line.
func (l *line) level() gpio.Level {
	if l.stuck {
		return l.stuckAt
	}
	if l.isOutput {
		return l.driven
	}
	if l.use == alertLine {
		return gpio.Level(!l.alarm.Alert(l.t.present()))
	}
	asserted := l.follows != nil && *l.follows
	return gpio.Level(asserted != l.activeLow)
}

// state returns what a line of a use follows; nil for one that follows nothing.
func (c *coils) state(use lineUse) *bool {
	switch use {
	case stopLine:
		return &c.stopped
	case lidLine:
		return &c.lidOpen
	case coilLine:
		return &c.on
	}
	return nil
}
