package scenarios

import (
	"slices"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// Scenario is a loaded scenario: expanded, in order, and proved against one
// rig and one product. It is not changed by a run.
type Scenario struct {
	Name, Title, Version string
	Decision             record.Decision
	// Product is the name of the product it was proved against.
	Product string
	Stages  []Stage
	// NotObservable lists the checks that the product makes impossible.
	NotObservable []record.NotObservable
	// Interlocks are the checks that the guard answers for the unit.
	Interlocks []Check
	// AfterFail says what is still asked when a check has failed.
	AfterFail AfterFail
	// Windows says how readings share the bench's time.
	Windows Windows
}

// AfterFail says what is still asked of a unit that has failed a check.
type AfterFail string

// What is asked after a fail: everything, which tells most about what is wrong
// with the unit, or only what decides on quarantine.
const (
	AskAll     AfterFail = ""
	AskHazards AfterFail = "hazards"
)

// Checks returns every question of the scenario in order, controls included.
func (s *Scenario) Checks() []Check {
	var all []Check
	for _, st := range s.Stages {
		all = append(all, st.checks()...)
	}
	return append(all, s.Interlocks...)
}

// movesPerStage is about how often a stage moves relays: feeds off, contacts open,
// contacts closed, feeds on; one more is its share of what the probe does.
const movesPerStage = 5

// size is how many checks a run has, and about how many readings and moves of relays.
func (s *Scenario) size() (checks, readings, moves int) {
	checks, moves = len(s.Interlocks), movesPerStage*len(s.Stages)
	for _, st := range s.Stages {
		for _, step := range st.Steps {
			switch step.(type) {
			case Check:
				checks++
			case Wait:
				readings += 2
			case Probe, Sample:
				readings += 3
			case Read, Given:
				readings++
			}
		}
	}
	return checks, readings, moves
}

// Stage enters one setting of the rig and holds the steps that are taken
// there. A stage of the file that enters several settings is as many stages
// here, one after the other.
type Stage struct {
	// Name is the name in the file, with the key of for_each in brackets.
	Name, Title string
	// Setting is what is entered. A stage with a probe has the condition of
	// the probe, which the probe itself enters.
	Setting wiring.Setting
	// Unseated tells that it is taken before the unit is seated, in the nest that
	// was measured empty.
	Unseated bool
	// Powered tells that the condition needs the probe to have passed.
	Powered bool
	// Supply names the supply that the setting connects; empty without one.
	Supply string
	// Requires names checks that must have passed, else nothing here is asked.
	Requires []string
	// When, if not nil, decides at run time whether the stage is asked.
	When  truth
	Steps []Step
}

func (s Stage) checks() []Check {
	var all []Check
	for _, step := range s.Steps {
		if c, ok := step.(Check); ok {
			all = append(all, c)
		}
	}
	return all
}

// hazard tells whether the stage has a check that decides on quarantine.
func (s Stage) hazard() bool {
	return slices.ContainsFunc(s.checks(), func(c Check) bool { return c.Bin == record.BinQuarantine })
}

// probes tells whether the stage holds a probe.
func (s Stage) probes() bool {
	for _, step := range s.Steps {
		if _, ok := step.(Probe); ok {
			return true
		}
	}
	return false
}

// Given is a value that no channel of the bench can read: it comes with the
// job. Its reading is NAME, absent when the job does not give it.
type Given struct {
	Name, Title string
	Dim         quantity.Dim
	// U is the half-width of what the value may be off.
	U quantity.Quantity
}

// Step is one of Probe, Given, Wait, Read, Sample, Capture, Reseat and Check,
// and within a Lifted also Enter.
type Step interface {
	// Label is the full name of the step, with the key of for_each.
	Label() string
}

// Probe shows whether something is seated. Its readings are NAME.capacitance,
// NAME.level, the mean of VBUS as it settled, and NAME.top, where it ended.
type Probe struct{ Name, Title string }

// Wait ends when a channel does what is asked for. Its readings are NAME, the
// time it took, and NAME.value, the mean of the channel over the hold.
type Wait struct {
	Name, Title, Channel string
	Relation             bench.Relation
	Level                quantity.Quantity // not used with Steady
	Band                 float64           // with Steady only
	Hold, Within         time.Duration
	Origin               bench.Origin
	Mark                 bench.Comparison
	Keep                 bool
	Thresholds           []Threshold
}

// Read takes one value. Its reading is NAME. With Band it first waits until
// the channel is steady.
type Read struct {
	Name, Title, Channel string
	Periods              int
	Expect               quantity.Quantity
	Band                 float64 // 0 = taken at once
	Within               time.Duration
}

// Sample takes values over a time. Its readings are NAME.min, NAME.max and
// NAME.mean.
type Sample struct {
	Name, Title, Channel string
	Over, Every          time.Duration
	Expect               quantity.Quantity
	Thresholds           []Threshold
}

// Capture keeps a waveform for the report. It has no reading: the samples of
// a waveform carry no uncertainty.
type Capture struct {
	Name, Title, Channel string
	Over, Interval       time.Duration
	Expect               quantity.Quantity
	Thresholds           []Threshold
}

// Reseat asks once in a run to plug the unit again, where When is true, and
// takes the stage from its beginning.
type Reseat struct {
	When truth
	Why  string
}

// Threshold is a level drawn into a waveform.
type Threshold struct {
	Title string
	Level quantity.Quantity
}

// Check is one question. A Control is put to the bench instead of the unit.
type Check struct {
	Name, Title string
	// Condition is where it is asked.
	Condition string
	Control   string // "", Positive or Negative
	// Gate marks a check of the probe that must pass before power is applied.
	Gate  bool
	Value Expr
	// Low and High are the limits; one of them may be nil.
	Low, High *quantity.Quantity
	// Source says where the limits come from.
	Source string
	Rework string
	// Bin is where a unit goes that fails: BinRework or BinQuarantine.
	Bin record.Bin
	// When, if not nil and false, leaves the check unasked. Provided, if not
	// nil and not true, leaves it unanswered.
	When, Provided truth
	// ProvidedWhy says what is missing then.
	ProvidedWhy string
	// Requires names checks that must have passed, else this one is not
	// asked. Trusts names controls, else it is unanswered. Because names
	// checks of whose fail this one's would be a consequence.
	Requires, Trusts, Because []string
	// Lifted, if not nil, is how a control is asked again with the unit
	// lifted. One that is asked before the unit is seated has none.
	Lifted *Lifted
}

// Lifted is how a control that failed is asked again while no unit is seated.
// Its steps begin with an Enter.
type Lifted struct {
	Steps []Step
	Value Expr
}

// The kinds of control. A negative one shows that nothing happens without a
// cause, a positive one that it does with one.
const (
	Positive = "positive"
	Negative = "negative"
)

// Enter leads the rig to a setting while a control is asked without the unit.
type Enter struct{ Setting wiring.Setting }

// Label implements Step.
func (e Enter) Label() string { return e.Setting.String() }

// Label implements Step.
func (p Probe) Label() string { return p.Name }

// Label implements Step.
func (g Given) Label() string { return g.Name }

// Label implements Step.
func (w Wait) Label() string { return w.Name }

// Label implements Step.
func (r Read) Label() string { return r.Name }

// Label implements Step.
func (s Sample) Label() string { return s.Name }

// Label implements Step.
func (c Capture) Label() string { return c.Name }

// Label implements Step.
func (r Reseat) Label() string { return "reseat" }

// Label implements Step.
func (c Check) Label() string { return c.Name }
