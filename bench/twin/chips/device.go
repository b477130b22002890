package chips

import (
	"math"
	"time"
)

// Device is a chip on a bus. Both calls come in the order of the bytes on the
// wire, and neither allocates.
type Device interface {
	// Write takes the bytes of one write message, acknowledged in full.
	Write(now time.Duration, w []byte)
	// Read fills r with what the chip puts on the bus.
	Read(now time.Duration, r []byte)
}

// Probe is a node of the circuit as a chip's input sees it.
type Probe interface {
	// Mean returns the mean voltage against ground between two instants. The
	// circuit has not changed between them, and the later one has come.
	Mean(from, to time.Duration) float64
}

// Sampler is a chip that looks at the circuit. It integrates late: when
// somebody asks it, and before the circuit changes.
type Sampler interface {
	// Follow takes in what the inputs have shown since the last call, up to an
	// instant.
	Follow(now time.Duration)
}

// Reach brings the circuit up to an instant. On the way it calls Follow of
// every sampler whenever the circuit is about to change. A nil Reach stands for
// a circuit that is always there.
type Reach func(now time.Duration)

func (r Reach) to(now time.Duration) {
	if r != nil {
		r(now)
	}
}

// Alarm is a chip with an alert pin.
type Alarm interface {
	// Alert tells whether the pin is pulled low.
	Alert(now time.Duration) bool
	// Turn returns the next instant at which the chip may move the pin by
	// itself, or Never.
	Turn(now time.Duration) time.Duration
}

// Never is an instant that does not come.
const Never = time.Duration(math.MaxInt64)

// mean is what a node shows over a span; an open input shows 0 V.
func mean(p Probe, from, to time.Duration) float64 {
	if p == nil {
		return 0
	}
	return p.Mean(from, to)
}

// word puts a 16-bit register on the bus, most significant byte first, over
// and over as long as the master clocks.
func word(r []byte, v uint16) {
	for i := range r {
		if i&1 == 0 {
			r[i] = byte(v >> 8)
		} else {
			r[i] = byte(v)
		}
	}
}
