package chips

import "time"

// Device is a chip on a bus. Both calls come in the order of the bytes on the
// wire, and neither allocates.
type Device interface {
	// Write takes the bytes of one write message, acknowledged in full.
	Write(now time.Duration, w []byte)
	// Read fills r with what the chip puts on the bus.
	Read(now time.Duration, r []byte)
}

// Timer calls its chip's Due at one instant to come.
type Timer interface {
	// Set asks for the call and replaces what was asked for before.
	Set(at time.Duration)
	// Stop withdraws it.
	Stop()
}

// Probe is a node of the circuit as a chip's input sees it.
type Probe interface {
	// Volts returns the voltage against ground at the present instant.
	Volts() float64
}

// Alarm is a chip with an alert pin.
type Alarm interface {
	// Alert tells whether the pin is pulled low.
	Alert(now time.Duration) bool
}

// finest is the longest stretch of a conversion that one sample stands for. A
// ramp is averaged exactly by any number of evenly spaced samples; 2.5 ms is
// an eighth of a mains period and a tenth of the shortest blink or toggle of
// a unit.
const finest = 2500 * time.Microsecond

// samplesIn returns how many samples represent a conversion of length d.
func samplesIn(d time.Duration, most int) int {
	n := int((d + finest - 1) / finest)
	return max(1, min(n, most))
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
