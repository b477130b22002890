// Package chips models the four chips of a bench at the level of their
// registers, written from the facts of the data sheets and not from the
// drivers: what a driver writes and reads over the bus is all that the two
// know of each other.
//
// A chip is a Device on a bus. It keeps no clock: every call brings its
// instant. What it must do later it asks of its Timer. What it measures it
// reads through a Probe, the voltage of a node at the present instant, which
// whoever owns the circuit brings up to date before the chip is called.
//
// The models carry the errors of one piece (gain, offset, noise, oscillator),
// as drawn by the owner within the limits that the wiring file states.
package chips
