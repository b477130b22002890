package qualification

import (
	"math"

	"sinkproof/reports/quality/capability"
)

// Side is one of the two that are compared.
type Side int

// The sides.
const (
	Candidate Side = iota
	Incumbent
)

// String returns the word for the side.
func (s Side) String() string {
	if s == Candidate {
		return "candidate"
	}
	return "incumbent"
}

// Place is where and with what a board was tested.
type Place struct {
	Bench, Nest, Day string
	// Papers names the versions of wiring, product and scenario file.
	Papers string
}

// appraiser is what measures in a gauge study.
func (p Place) appraiser() string { return p.nest() + ", " + p.Day }

// nest names a nest among all benches.
func (p Place) nest() string { return p.Bench + " nest " + p.Nest }

// Board is one board with the answer that counts.
type Board struct {
	Serial string
	Side   Side
	Lot    string
	// Place is where and when it was tested; boards that share it may point to one.
	Place *Place
	// Tested orders boards by when they were tested.
	Tested int64
	Good   bool
	// Kinds are the faults of a bad board.
	Kinds []string
	// Values are those of the characteristics, in their order; NaN for none.
	Values []float64
}

// Trial is one run of a board in the gauge study.
type Trial struct {
	Part  string
	Place Place
	// OwnCell tells of a board with a cell of its own: every charge changes it, so
	// that a second trial does not measure the same thing again.
	OwnCell bool
	Values  []float64
}

// Characteristic is a value that boards have.
type Characteristic struct {
	Name, Title, Unit string
	Limits            capability.Limits
	// Margin is how far the means may lie apart; 0 for the default, a tenth of the
	// room between two limits, or with one limit a fifth of the room between it and
	// the incumbent's mean. Common practice, no source.
	Margin float64
}

// marginAround returns the margin, given the incumbent's mean.
func (c Characteristic) marginAround(mean float64) float64 {
	if c.Margin > 0 {
		return c.Margin
	}
	return 0.2 * c.room(mean)
}

// room is half the width between two limits, or the distance from a mean to the
// one that there is.
func (c Characteristic) room(mean float64) float64 {
	switch {
	case math.IsInf(c.Limits.Upper, 0):
		return math.Abs(mean - c.Limits.Lower)
	case math.IsInf(c.Limits.Lower, 0):
		return math.Abs(c.Limits.Upper - mean)
	}
	return (c.Limits.Upper - c.Limits.Lower) / 2
}

// Terms are what the claims are held against.
type Terms struct {
	// Alpha is the risk of a wrong claim, shared by all characteristics.
	Alpha float64
	// Power is the probability with which boards that are alike should be found
	// so; numbers of further units are for it.
	Power float64
	// BadMargin is how much larger the candidate's fraction of bad boards may be.
	BadMargin float64
	// Ppk is the least capability.
	Ppk float64
	// GRR is the most that the rig may spread, in percent of the room.
	GRR float64
	// Lots is the fewest lots of a side, Parts the fewest boards of a gauge study.
	Lots, Parts int
}

// DefaultTerms are the terms where nobody states others. The limit of GRR is
// AIAG's (MSA, 4th ed., II.D: above 30 % unfit), three lots are the issue of
// every comparison over lots (two degrees of freedom); the others are common
// practice, no source.
func DefaultTerms() Terms {
	return Terms{Alpha: 0.05, Power: 0.9, BadMargin: 0.02, Ppk: 1, GRR: 30, Lots: 3, Parts: 5}
}

// Sample is everything that a decision is made from.
type Sample struct {
	Terms           Terms
	Characteristics []Characteristic
	Boards          []Board
	Gauge           []Trial
}
