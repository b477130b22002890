// Package adc16x4 drives a sixteen-bit delta-sigma converter with four inputs
// (ADS1115 class) over an i2c.Bus.
//
// An *input* is one of the four pins against ground, or a pair of them. A
// *range* is the full scale that the amplifier in front of the converter is set
// to; its 32,768th part is the *step* (LSB). A *rate* is the nominal number of
// conversions per second.
//
// A *sample* is one finished conversion: its code, the voltage that the code
// means, whether it stands at an end of the range (then it is only a bound),
// and the span of time in which the chip integrated the input.
//
// # When a conversion is finished
//
// The chip's oscillator is up to 10 % off, so time alone never tells. Convert
// starts one conversion and polls the ready bit (OS) of the configuration
// register. Every look also compares the other fifteen bits with what was
// written: a chip that was reset meanwhile shows the ready bit too.
//
// In continuous mode that bit says nothing. With Opts.Ready given, the chip
// pulses its ALERT/RDY pin after each conversion (thresholds 8000h and 7FFFh)
// and Next waits for the edge. Without it Next reads the conversion register:
//
//   - a code that differs from the last one is a fresh conversion;
//   - the same code is taken as fresh only when a conversion has ended for
//     certain. A chip that stopped repeats itself too: where a stream ends in
//     repeated codes, Stop reads the configuration back, and what follows one that
//     is not as written is an error in place of an answer;
//   - a code of zero is what a reset leaves, so it asks for that proof at once.
//
// When a conversion has ended for certain follows at first from the ±10 % of the
// data sheet. The instants at which codes change then narrow it down, to the 0.2 %
// that the oscillator may wander: Next looks once where it would look two or
// three times, which leaves a shared bus to others. A look now and then that is
// too early for anything to have changed proves what was learned; where
// something has, it is learned anew.
//
// Successive samples are therefore always different conversions. One may be
// skipped, when a code repeats or the caller is late; Sample.From and Sample.At
// tell.
//
// # Limits of the pins
//
// No input may be above the chip's supply by more than 0.3 V, whatever the
// range (ADS1115 absolute maximum, from memory). The driver cannot see the
// supply; a wiring file must.
package adc16x4
