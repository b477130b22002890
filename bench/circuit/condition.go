package circuit

import "math"

// ConditionVolts is how far a condition must be violated before it counts, and
// so the error of a corner of a characteristic and of a watch. It lets an
// element that has just changed segment stand on the far side of the corner.
const ConditionVolts = 1e-10

// rearmVolts is how far a watched voltage must come back before its watch can
// fire again: above rounding, below anything a converter resolves.
const rearmVolts = 1e-9

// condition is a linear function of up to three node voltages that must stay
// at or above zero: fixed + sum of weight*voltage.
type condition struct {
	node   [3]Node
	weight [3]float64
	fixed  float64
	owner  int32 // the element, or the watch
	which  int8  // the consequence of its violation
	watch  bool
}

// What follows from the violation of a condition.
const (
	moveBelow int8 = iota // piecewise elements, one segment down
	moveAbove
	toLow // chargers
	toHeadroomCheck
	toNoHeadroom
	toCharging
	toFast
	toTrickle
	toCurrent
	toVoltage
	toDropout
	toFull
	toReverse
	toDone
)

// frozen tells whether the consequence is a matter of memory, which a DC
// solution with given memory leaves alone.
func frozen(which int8) bool {
	return (which >= toLow && which <= toTrickle) || which == toDone
}

// value returns the condition at the given voltages and the rounding that its
// terms may carry.
func (c *condition) value(v []float64) (sum, rounding float64) {
	sum = c.fixed
	rounding = math.Abs(c.fixed)
	for i, w := range c.weight {
		if w != 0 {
			x := w * v[c.node[i]]
			sum += x
			rounding += math.Abs(x)
		}
	}
	return sum, rounding * 1e-12
}

// conditions appends those of the element in its present segment.
func (e *element) conditions(owner int32, to []condition) []condition {
	if e.kind == KindCharger {
		return e.chargerConditions(owner, to)
	}
	if !e.piecewise() || !e.joins() {
		return to
	}
	low, high := e.law.low, e.law.high
	if !math.IsInf(low, -1) {
		to = append(to, condition{node: [3]Node{e.a, e.b}, weight: [3]float64{1, -1}, fixed: -low, owner: owner, which: moveBelow})
	}
	if !math.IsInf(high, 1) {
		to = append(to, condition{node: [3]Node{e.a, e.b}, weight: [3]float64{-1, 1}, fixed: high, owner: owner, which: moveAbove})
	}
	return to
}

// chargerConditions: in terms of input u = in-gnd, cell w = bat-gnd and
// headroom x = in-bat.
func (e *element) chargerConditions(owner int32, to []condition) []condition {
	c := e.charger
	if c.disabled {
		return to
	}
	add := func(u, w, x, fixed float64, which int8) {
		to = append(to, condition{node: [3]Node{e.a, e.b, e.c}, weight: [3]float64{u + x, w - x, -u - w},
			fixed: fixed, owner: owner, which: which})
	}
	if c.phase == phaseLow {
		add(-1, 0, 0, c.StartVolts, toHeadroomCheck)
		return to
	}
	add(1, 0, 0, -c.StopVolts, toLow)
	switch c.phase {
	case phaseNoHeadroom:
		add(0, 0, -1, c.HeadroomStartVolts, toCharging)
		return to
	case phaseDone:
		add(0, 1, 0, -c.RechargeVolts, toHeadroomCheck)
		return to
	}
	add(0, 0, 1, -c.HeadroomStopVolts, toNoHeadroom)
	if c.fast {
		add(0, 1, 0, c.TrickleHysteresisVolts-c.TrickleVolts, toTrickle)
	} else {
		add(0, -1, 0, c.TrickleVolts, toFast)
	}
	c.pathConditions(add)
	return to
}

// pathConditions bound the limit that sets the current: the programmed current
// i, the constant voltage (reg-w)/out, the pass element x/drop; whichever is
// least, and not below zero.
func (c *charger) pathConditions(add func(u, w, x, fixed float64, which int8)) {
	i, reg := c.programmed(), c.RegulationVolts
	share := c.DropoutOhms / c.OutputOhms
	switch c.path {
	case pathCurrent:
		add(0, -1, 0, reg-i*c.OutputOhms, toVoltage)
		add(0, 0, 1, -i*c.DropoutOhms, toDropout)
	case pathVoltage:
		add(0, 1, 0, i*c.OutputOhms-reg, toCurrent)
		add(0, share, 1, -reg*share, toDropout)
		if c.terminates() {
			add(0, -1, 0, c.terminationVolts(), toDone)
		}
		add(0, -1, 0, reg, toFull)
	case pathDropout:
		add(0, 0, -1, i*c.DropoutOhms, toCurrent)
		add(0, -share, -1, reg*share, toVoltage)
		add(0, 0, 1, 0, toReverse)
	case pathFull:
		if c.terminates() {
			add(0, 0, 0, -1, toDone)
		}
		add(0, 1, 0, -reg, toVoltage)
	case pathReverse:
		add(0, 0, -1, 0, toDropout)
	}
}

// turn puts an element into a segment.
func (e *element) turn(segment int8) {
	e.segment = segment
	e.learn()
}

// move applies the consequence of a violated condition at an instant with the
// given node voltages.
func (e *element) move(which int8, now float64, v []float64) {
	if e.kind != KindCharger {
		if which == moveBelow {
			e.turn(e.law.below)
		} else {
			e.turn(e.law.above)
		}
		return
	}
	c := e.charger
	bat := v[e.b] - v[e.c]
	switch which {
	case toLow:
		c.phase = phaseLow
	case toNoHeadroom:
		c.phase = phaseNoHeadroom
	case toHeadroomCheck:
		if v[e.a]-v[e.b] < c.HeadroomStartVolts {
			c.phase = phaseNoHeadroom
		} else {
			c.begin(now, bat)
		}
	case toCharging:
		c.begin(now, bat)
	case toFast:
		c.fast = true
	case toTrickle:
		c.fast = false
	case toDone:
		c.phase = phaseDone
	case toCurrent:
		c.path = pathCurrent
	case toVoltage:
		c.path = pathVoltage
	case toDropout:
		c.path = pathDropout
	case toFull:
		c.path = pathFull
	case toReverse:
		c.path = pathReverse
	}
}
