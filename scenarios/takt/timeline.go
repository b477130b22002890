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
	Round, Step string
	Cause       Cause
	From, To    time.Duration // since the run began
}

// Isolated is the round under which the way to the safe end stands.
const Isolated = "isolated"

// Seconds is how long it took.
func (s Segment) Seconds() float64 { return (s.To - s.From).Seconds() }

// Load is how much a bus was used.
type Load struct {
	Bus       string
	Busy      time.Duration
	Transfers int
}

// Timeline is where the time of a run went. Its segments follow each other
// without a gap.
type Timeline struct {
	Segments []Segment
	Rounds   []RoundTime
	Loads    []Load
	// Operations counts the closings of contacts, by relay.
	Operations map[string]int
	Total      time.Duration
}

// RoundTime is what one round of a run took.
type RoundTime struct {
	Name     string
	From, To time.Duration
	// Way is what it took to enter its first setting; it depends on the round
	// before it.
	Way        time.Duration
	Operations int
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
