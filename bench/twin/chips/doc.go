// Package chips models the four chips of a bench at the level of their
// registers, written from the facts of the data sheets and not from the
// drivers: what a driver writes and reads over the bus is all that the two
// know of each other.
//
// A chip is a Device on a bus. It keeps no clock: every call brings its
// instant. What it measures it takes through a Probe, the mean voltage of a
// node over a span, and as late as can be: it integrates up to the present when
// somebody asks for the result, and whoever owns the circuit calls Follow
// before the circuit changes, so that what was before is not lost. Conversions
// whose results nobody sees are not computed.
//
// The models carry the errors of one piece (gain, offset, noise, oscillator),
// as drawn by the owner within the limits that the wiring file states.
package chips
