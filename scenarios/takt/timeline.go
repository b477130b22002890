package takt

import (
	"time"
)

// Cause says why a stretch of a run took time.
type Cause string

// The causes, in the order in which a page lists them.
const (
	Bus        Cause = "bus"        // coil patterns on their way, registers set up
	Relays     Cause = "relays"     // contacts come to rest
	Emptying   Cause = "emptying"   // VBUS is emptied between two settings
	Probing    Cause = "probing"    // the probe current fills and leaves VBUS
	Supply     Cause = "supply"     // a supply debounces and raises VBUS
	Release    Cause = "release"    // a supply lets VBUS fall, a current ends
	Settling   Cause = "settling"   // a reading is not steady yet
	Holding    Cause = "holding"    // holds and samples that the scenario asks for
	Mains      Cause = "mains"      // whole mains periods are averaged over
	Conversion Cause = "conversion" // conversions and their set-up, beside the windows
	Hands      Cause = "hands"      // the unit is moved, the program thinks
)

// Causes returns the causes in their order.
func Causes() []Cause {
	return []Cause{Supply, Release, Holding, Mains, Settling, Probing, Relays, Emptying, Conversion, Bus, Hands}
}

// Words says a cause in words.
func (c Cause) Words() string {
	words := map[Cause]string{
		Bus: "bus transfers", Relays: "contacts come to rest", Emptying: "VBUS is emptied", Probing: "probe current on VBUS",
		Supply: "supply debounces and rises", Release: "supply lets go", Settling: "reading settles", Holding: "holds and samples",
		Mains: "mains averaging", Conversion: "conversions", Hands: "hands and program",
	}
	return words[c]
}

// Segment is a stretch of a run with one cause.
type Segment struct {
	// Round is empty while the nest is proved empty, and Isolated at the end.
	Round string        `json:"round,omitempty"`
	Step  string        `json:"step,omitempty"`
	Cause Cause         `json:"cause"`
	From  time.Duration `json:"from_ns"` // since the run began
	To    time.Duration `json:"to_ns"`
}

// Isolated is the round under which the way to the safe end stands.
const Isolated = "isolated"

// Seconds is how long it took.
func (s Segment) Seconds() float64 { return (s.To - s.From).Seconds() }

// Load is how much a bus was used.
type Load struct {
	Bus       string        `json:"bus"`
	Busy      time.Duration `json:"busy_ns"`
	Transfers int           `json:"transfers"`
}

// Timeline is where the time of a run went. Its segments follow each other
// without a gap.
type Timeline struct {
	Segments []Segment   `json:"segments"`
	Rounds   []RoundTime `json:"rounds"`
	Loads    []Load      `json:"loads"`
	// Operations counts the closings of contacts, by relay.
	Operations map[string]int `json:"operations"`
	Total      time.Duration  `json:"total_ns"`
}

// RoundTime is what one round of a run took.
type RoundTime struct {
	Name string        `json:"name"`
	From time.Duration `json:"from_ns"`
	To   time.Duration `json:"to_ns"`
	// Way is what it took to enter its first setting; it depends on the round
	// before it.
	Way        time.Duration `json:"way_ns"`
	Operations int           `json:"operations"`
}

// Dwell is what the round took beside the way to it.
func (r RoundTime) Dwell() time.Duration { return r.To - r.From - r.Way }

// ByCause sums the segments up.
func (t *Timeline) ByCause() map[Cause]float64 {
	sum := map[Cause]float64{}
	for _, s := range t.Segments {
		sum[s.Cause] += s.Seconds()
	}
	return sum
}

// Closings is the number of relay operations of the run.
func (t *Timeline) Closings() int {
	n := 0
	for _, k := range t.Operations {
		n += k
	}
	return n
}
