// Package expander16 drives a sixteen-bit I/O expander (MCP23017 class) whose
// pins switch relay coils.
//
// A *pattern* is sixteen bits, one per pin: bits 0 to 7 are GPA0 to GPA7, bits
// 8 to 15 are GPB0 to GPB7. A set bit in a pattern means a coil that is
// energised, whatever the level at the pin: Opts.ActiveLow says which drivers
// pull in on a low level. *Off* is the pattern 0.
//
// Both ports change in one transfer, so relays that must move together do, and
// no pattern exists on the pins that nobody asked for.
//
// Every write is *read back* twice over, from the output latch (what the chip
// was told) and from the port (what level the pin has), also in one transfer. A
// pin that is shorted, an output that has become an input after a dip of the
// supply, and a byte damaged on the bus all end in a *ReadbackError. It says
// nothing about contacts: a welded contact must be measured.
//
// Of the pins that are no outputs, those named as inputs are read by Inputs and
// the rest are unused: they stay inputs with the chip's pull-up, so that they
// do not float.
package expander16
