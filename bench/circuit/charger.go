package circuit

// ChargerParams are the properties of a linear single-cell charger. in is the
// input, bat the cell, both over gnd. Zero in an optional field leaves that
// property out.
type ChargerParams struct {
	StartVolts float64 // in, rising: leaves the lock-out
	StopVolts  float64 // in, falling: enters it; below StartVolts

	HeadroomStartVolts float64 // in over bat, rising: charging may begin
	HeadroomStopVolts  float64 // in over bat, falling: charging ends; below the start

	TrickleAmperes         float64 // current into a deeply empty cell
	TrickleVolts           float64 // bat, rising: full current from here
	TrickleHysteresisVolts float64 // so much lower for the way back; > 0

	ChargeAmperes   float64 // constant current; > 0
	RegulationVolts float64 // constant voltage
	OutputOhms      float64 // slope of the constant voltage; > 0
	DropoutOhms     float64 // least resistance of the pass element; > 0

	TerminationAmperes float64 // optional: in constant voltage, charging ends below this
	RechargeVolts      float64 // bat, falling: charging begins again

	SoftStartSteps   int     // optional: the current comes in so many equal steps
	SoftStartSeconds float64 // the time of all steps together

	QuiescentAmperes float64 // optional: own consumption from in to gnd outside the lock-out
	QuiescentOhms    float64 // optional: own consumption at any input voltage
	ReverseOhms      float64 // optional: leak between bat and in, in every state

	Disabled bool // starts disabled: no charging, only the leaks
}

// phase is what the charger remembers.
type phase uint8

const (
	phaseLow        phase = iota // input below the lock-out
	phaseNoHeadroom              // input fine but too close to the cell
	phaseCharging
	phaseDone // ended, waits for the recharge threshold
)

// path is which limit sets the current while charging.
type path uint8

const (
	pathCurrent path = iota
	pathVoltage
	pathDropout
	pathFull    // cell above the regulation voltage: nothing flows
	pathReverse // cell above the input: nothing flows
)

// charger is the state of one charger.
type charger struct {
	ChargerParams
	phase    phase
	path     path
	fast     bool
	disabled bool
	step     int
	nextStep float64
}

func (c *charger) validate(name string) error {
	for _, r := range []struct {
		what  string
		value float64
		ok    bool
	}{
		{"start voltage over stop voltage", c.StartVolts - c.StopVolts, c.StartVolts > c.StopVolts},
		{"headroom start over stop", c.HeadroomStartVolts - c.HeadroomStopVolts, c.HeadroomStartVolts > c.HeadroomStopVolts},
		{"trickle current", c.TrickleAmperes, c.TrickleAmperes >= 0 && finite(c.TrickleAmperes)},
		{"trickle threshold", c.TrickleVolts, finite(c.TrickleVolts)},
		{"trickle hysteresis", c.TrickleHysteresisVolts, positive(c.TrickleHysteresisVolts)},
		{"charge current", c.ChargeAmperes, positive(c.ChargeAmperes)},
		{"regulation voltage", c.RegulationVolts, positive(c.RegulationVolts)},
		{"output resistance", c.OutputOhms, positive(c.OutputOhms)},
		{"dropout resistance", c.DropoutOhms, positive(c.DropoutOhms)},
		{"termination current", c.TerminationAmperes, c.TerminationAmperes >= 0 && c.TerminationAmperes < c.ChargeAmperes},
		{"recharge threshold", c.RechargeVolts, c.TerminationAmperes == 0 || c.RechargeVolts < c.terminationVolts()},
		{"soft start steps", float64(c.SoftStartSteps), c.SoftStartSteps >= 0},
		{"soft start time", c.SoftStartSeconds, c.SoftStartSteps < 2 || positive(c.SoftStartSeconds)},
		{"quiescent current", c.QuiescentAmperes, c.QuiescentAmperes >= 0 && finite(c.QuiescentAmperes)},
		{"quiescent resistance", c.QuiescentOhms, c.QuiescentOhms >= 0},
		{"reverse resistance", c.ReverseOhms, c.ReverseOhms >= 0},
	} {
		if !r.ok {
			return &ValueError{name, r.what, r.value}
		}
	}
	return nil
}

// active tells whether the charger drives current into the cell.
func (c *charger) active() bool { return !c.disabled && c.phase == phaseCharging }

// awake tells whether it draws its quiescent current.
func (c *charger) awake() bool {
	return !c.disabled && (c.phase == phaseCharging || c.phase == phaseDone)
}

// form distinguishes the ways the charger shapes the conductances.
func (c *charger) form() uint64 {
	if c.active() {
		switch c.path {
		case pathVoltage:
			return 1
		case pathDropout:
			return 2
		}
	}
	return 0
}

// programmed is the current of the present stage and soft start step.
func (c *charger) programmed() float64 {
	i := c.TrickleAmperes
	if c.fast {
		i = c.ChargeAmperes
	}
	if c.SoftStartSteps > 1 {
		i *= float64(c.step) / float64(c.SoftStartSteps)
	}
	return i
}

// terminationVolts is the cell voltage at which the current has fallen to the
// termination current.
func (c *charger) terminationVolts() float64 {
	return c.RegulationVolts - c.TerminationAmperes*c.OutputOhms
}

// terminates tells whether the end of charge is looked for.
func (c *charger) terminates() bool {
	return c.TerminationAmperes > 0 && c.fast && c.step >= c.SoftStartSteps
}

// current returns what flows from in to bat through the pass element.
func (c *charger) current(in, bat float64) float64 {
	if !c.active() {
		return 0
	}
	switch c.path {
	case pathCurrent:
		return c.programmed()
	case pathVoltage:
		return (c.RegulationVolts - bat) / c.OutputOhms
	case pathDropout:
		return (in - bat) / c.DropoutOhms
	}
	return 0
}

// conductances reports those between the terminals of the element, constant
// voltage excepted.
func (c *charger) conductances(e *element, report func(a, b Node, siemens float64)) {
	if c.QuiescentOhms > 0 {
		report(e.a, e.c, 1/c.QuiescentOhms)
	}
	if c.ReverseOhms > 0 {
		report(e.a, e.b, 1/c.ReverseOhms)
	}
	if c.form() == 2 {
		report(e.a, e.b, 1/c.DropoutOhms)
	}
}

// drives returns the currents that do not depend on voltages: into the cell, and what
// the charger itself consumes. Both come in at the input.
func (c *charger) drives() (bat, quiescent float64) {
	if c.active() {
		switch c.path {
		case pathCurrent:
			bat = c.programmed()
		case pathVoltage:
			bat = c.RegulationVolts / c.OutputOhms
		}
	}
	if c.awake() {
		quiescent = c.QuiescentAmperes
	}
	return bat, quiescent
}

// begin starts charging at the given instant with the first soft start step.
func (c *charger) begin(now, bat float64) {
	c.phase, c.path = phaseCharging, pathCurrent
	c.fast = bat >= c.TrickleVolts
	c.step = c.SoftStartSteps
	if c.SoftStartSteps > 1 {
		c.step = 1
		c.nextStep = now + c.SoftStartSeconds/float64(c.SoftStartSteps)
	}
}

// tick takes the next soft start step.
func (c *charger) tick() {
	c.step++
	c.nextStep += c.SoftStartSeconds / float64(c.SoftStartSteps)
}

// ticking tells whether a soft start step is still to come.
func (c *charger) ticking() bool {
	return c.active() && c.SoftStartSteps > 1 && c.step < c.SoftStartSteps
}

func (c *charger) segmentName() string {
	switch {
	case c.disabled:
		return "off"
	case c.phase == phaseLow:
		return "input low"
	case c.phase == phaseNoHeadroom:
		return "no headroom"
	case c.phase == phaseDone:
		return "done"
	}
	switch c.path {
	case pathVoltage:
		return "constant voltage"
	case pathDropout:
		return "dropout"
	case pathFull:
		return "full"
	case pathReverse:
		return "reverse"
	}
	switch {
	case c.ticking():
		return "soft start"
	case c.fast:
		return "constant current"
	}
	return "trickle"
}
