package proving

import (
	"fmt"
	"strings"
	"time"

	"sinkproof/bench/quantity"
)

// Report is what a self-test did and found.
type Report struct {
	Rig     string `json:"rig"`
	Version string `json:"version"`
	// Seated says whether the check receptacle was seated: without it Unproved
	// names what stays open.
	Seated   bool     `json:"receptacle"`
	Unproved []string `json:"unproved,omitempty"`
	// Bench is the time on the rig's clock without the time of hands.
	Bench    time.Duration `json:"bench_ns"`
	Steps    []Step        `json:"steps"`
	Findings []Finding     `json:"findings,omitempty"`
}

// Healthy says that nothing was found.
func (r *Report) Healthy() bool { return len(r.Findings) == 0 }

// Step is one thing that was done.
type Step struct {
	Name  string        `json:"name"`
	At    time.Duration `json:"at_ns"`
	Items []Item        `json:"items,omitempty"`
	// Trouble is why the step could not be done; empty when it was.
	Trouble string `json:"trouble,omitempty"`
}

// Item is one value with what it must lie between.
type Item struct {
	Name  string            `json:"name"`
	Value quantity.Measured `json:"-"`
	// Low and High are the limits on the true value; the value passes when it
	// may lie between them within the worst of its own errors.
	Low, High quantity.Quantity `json:"-"`
	Source    string            `json:"source"`
	OK        bool              `json:"ok"`
	Text      string            `json:"value"`
	Limits    string            `json:"limits"`
}

// Finding is something that is wrong with the rig.
type Finding struct {
	// Suspects are what explains everything that was measured: one, or several
	// that no measurement of this rig tells apart.
	Suspects []Suspect `json:"suspects"`
	Evidence string    `json:"evidence"`
	Rework   string    `json:"rework"`
}

// String names the finding.
func (f Finding) String() string {
	names := make([]string, len(f.Suspects))
	for i, s := range f.Suspects {
		names[i] = s.String()
	}
	return strings.Join(names, ", or ")
}

// limitsFrom is the source of the limits of the states.
const limitsFrom = "wiring file: nominal values, all tolerances at their worst ends"

// newItem judges one value.
func newItem(name string, m quantity.Measured, low, high float64, source string) Item {
	q := func(v float64) quantity.Quantity { return quantity.Quantity{SI: v, Dim: m.Dim} }
	got := newMeasured(0, m)
	return Item{
		Name: name, Value: m, Low: q(low), High: q(high), Source: source,
		OK:     span{low, high}.meets(got.span),
		Text:   m.String(),
		Limits: limitsText(q(low), q(high)),
	}
}

// limitsText is one value where both limits are the same: nothing, mostly.
func limitsText(low, high quantity.Quantity) string {
	switch {
	case low.SI == 0 && high.SI == 0:
		return low.String()
	case low.SI == high.SI:
		return low.Text(4)
	}
	return fmt.Sprintf("%s to %s", low.Text(4), high.Text(4))
}

// rework is the next step of a person, by the fault.
func rework(list []Suspect) string {
	if len(list) > 1 {
		return "No measurement of this rig tells these apart; start with the one that wears, and run the self-test again after each."
	}
	switch s := list[0]; s.Fault {
	case Welded, StuckOpen, RestOpen, RestWelded, CoilDead, CoilOn:
		return "Look at the driver, the plug and the coil of " + s.Thing + ", then replace it."
	case SelectDead, SelectOn:
		return "Follow the wire of " + s.Thing + " from the expander to the supply."
	case SupplyDead, SupplyOff, SupplyLate, SupplySlowOff:
		return "Measure " + s.Thing + " by hand, with and without load; replace it."
	case Gain:
		return "Compare " + s.Thing + " with a voltmeter: divider, buffer, shunt, converter."
	case PinOpen, PinWorn:
		return "Replace the test plug, and count its matings from zero."
	case NotSeated:
		return "Seat the check receptacle when it is asked for."
	case Absent:
		return "Check supply, address and wires of " + s.Thing + "."
	case LineStuck, NoAlert:
		return "Follow the wire of " + s.Thing + " from the computer."
	case NotCut, NoSupply:
		return "Take the bench out of use; prove the safety chain by hand as the page of the rig says."
	}
	return "Read the steps that failed and measure those nets by hand. If a unit or a tool is in the nest, take it out."
}
