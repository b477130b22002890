package record

// Answer is what became of a check.
type Answer string

// The answers. Unanswered means that the bench could not tell; it is never a
// fail and never a pass.
const (
	Passed     Answer = "pass"
	Failed     Answer = "fail"
	Unanswered Answer = "unanswered"
)

// Check is one question put to a unit, and its answer.
type Check struct {
	// Name is the check's name in the scenario, unique in the run.
	Name   string `json:"name"`
	Title  string `json:"title"`
	Answer Answer `json:"answer"`
	// Control marks a question that the scenario puts to the bench: its
	// answer says whether the others may be trusted.
	Control   bool   `json:"control,omitempty"`
	Condition string `json:"condition,omitempty"`
	// Why gives the cause of a fail or of an unanswered check in plain words.
	Why string `json:"why,omitempty"`
	// Rework is what to do about a fail.
	Rework string `json:"rework,omitempty"`
	// Value is what was judged; absent when nothing could be measured.
	Value *Value `json:"value,omitempty"`
	Lower *Limit `json:"lower,omitempty"`
	Upper *Limit `json:"upper,omitempty"`
	// AtUS is the instant of the answer.
	AtUS int64 `json:"at_us"`
	// Readings names the readings that the value was computed from.
	Readings []string `json:"readings,omitempty"`
}

// Limit is a bound on a value, with its source.
type Limit struct {
	// Value is the tolerance limit in Unit.
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
	// Source is where the limit comes from: standard and table, data sheet
	// and section, product file.
	Source string `json:"source"`
	// Acceptance is the limit that was compared with, in Unit; it equals
	// Value under the simple rule.
	Acceptance float64 `json:"acceptance"`
}

// The bounds of a value. The empty text means an estimate.
const (
	AtLeast = "at least"
	AtMost  = "at most"
)

// Value is a number in an SI unit without prefix, with its uncertainty.
type Value struct {
	Value float64 `json:"value"`
	// Unit is the symbol: "V", "A", "Ω", "F", "s", "Hz", "K", "C", "W", "J",
	// "S", "V/s", or "1" for a pure number.
	Unit string `json:"unit"`
	// U is the expanded uncertainty (k = 2) in Unit; 0 where none applies.
	U float64 `json:"u,omitempty"`
	// Bound is AtLeast or AtMost where the input was saturated or a search
	// ended, else empty.
	Bound string `json:"bound,omitempty"`
}

// Reading is a value that a channel gave at an instant.
type Reading struct {
	Name      string `json:"name"`
	Channel   string `json:"channel"`
	Condition string `json:"condition,omitempty"`
	Value
	AtUS          int64          `json:"at_us"`
	Contributions []Contribution `json:"contributions,omitempty"`
}

// Contribution is one input to the uncertainty of a reading, in the terms of
// JCGM 100: its share is Sensitivity times Std. Equal sources are the same
// error, fully correlated between readings.
type Contribution struct {
	Source string `json:"source"`
	// Std is the standard uncertainty, in the source's own unit.
	Std float64 `json:"std"`
	// Sensitivity is signed, in the reading's unit per unit of the source.
	Sensitivity float64 `json:"sensitivity"`
	// DOF is the degrees of freedom; absent (0) means infinite.
	DOF          float64 `json:"dof,omitempty"`
	Distribution string  `json:"distribution"`
}

// NotObservable is a check that the product makes impossible: listed, never
// silently dropped.
type NotObservable struct {
	Check string `json:"check"`
	Title string `json:"title,omitempty"`
	Why   string `json:"why"`
}
