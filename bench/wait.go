package bench

import (
	"time"

	"sinkproof/bench/quantity"
)

// Relation compares a channel with a level.
type Relation string

// The relations that a wait knows.
const (
	AtLeast Relation = "at least"
	AtMost  Relation = "at most"
	// Steady holds when the channel stays within a relative band around its
	// mean over the whole hold.
	Steady Relation = "steady"
)

// Comparison is what a channel can be at an instant.
type Comparison struct {
	Relation Relation // AtLeast or AtMost
	Level    quantity.Quantity
}

// Origin is the instant that a wait counts from.
type Origin string

// The origins. A mark is a comparison on the channel that is waited for.
const (
	// FromEntry counts from the last coil write of Enter.
	FromEntry Origin = ""
	// FromMark counts from the first instant since that write at which the
	// mark was true: "from VBUS below 0.8 V".
	FromMark Origin = "mark"
	// FromLastMark counts from the last instant at which the mark was true
	// before what was waited for: a rise time.
	FromLastMark Origin = "last mark"
)

// Until is what Wait waits for: a comparison on one channel that holds for a
// time, within a time.
type Until struct {
	Channel string
	// Relation and Level are what must be true. With Steady the level is
	// not used and Band is the half-width of the band, relative to the mean.
	Relation Relation
	Level    quantity.Quantity
	Band     float64
	// Hold is how long it must stay true. With Steady zero means five mains
	// periods; otherwise zero asks for a single sample.
	Hold time.Duration
	// Within is the longest time from the origin to the instant at which the
	// hold begins.
	Within time.Duration
	Origin Origin
	Mark   Comparison
	// Expect is the largest value expected, as in ReadOptions; zero takes
	// twice the level, or the channel's highest value with Steady.
	Expect quantity.Quantity
	// Keep keeps the waveform.
	Keep bool
}

// Waited is how a wait ended. That the unit did not do what was waited for is
// an answer and no error.
type Waited struct {
	Met bool
	// Since is the time from the origin to the beginning of the hold, with
	// the uncertainty of the sample spacing that it was found between. When
	// it was not met, Since is a lower bound.
	Since quantity.Measured
	// At is the beginning of the hold, or the end of the wait.
	At time.Duration
	// Reading is the mean of the channel over the hold; over the last five
	// mains periods when the wait was not met.
	Reading Reading
	// Wave is what was sampled; empty unless Keep was set.
	Wave Waveform
}

// Capture asks for a waveform of one channel from now on.
type Capture struct {
	Channel string
	For     time.Duration
	// Interval between samples; zero means as fast as the converter allows,
	// and a shorter interval than that is refused.
	Interval time.Duration
	// Expect is the largest value expected, as in ReadOptions; zero takes the
	// channel's highest value. A capture cannot change its range midway.
	Expect quantity.Quantity
}
