// Package chip holds what the drivers of the bench's chips share. Each chip
// class has a folder of its own below this one.
//
// A *driver* speaks to one chip over an i2c.Bus of periph. It has Opts, New,
// String and Halt: New checks the options, then proves by talking that the
// chip at that address is the one expected; Halt brings the chip into its safe
// state, can be called twice and after any error.
//
// *Words* is how three of the four classes are read and written: sixteen-bit
// registers, most significant byte first, behind a pointer byte.
//
// A *clock* is passed in. Drivers never ask the operating system for the time
// and never sleep by themselves, so the same code runs on virtual time, and a
// caller whose Sleep serves a heartbeat keeps serving it while a conversion
// runs.
//
// A *wait* ends when the chip says that it is ready, not when a timer does. The
// converters on a bench have oscillators that are 10 % off either way; a timed
// sleep is therefore only the quiet part before the first look.
//
// A *limit* is one bound on a chip's error as its data sheet prints it, with
// the place where it is printed: what an uncertainty budget is made of.
//
// Drivers keep their transfer buffers and are not safe for use by several
// goroutines at once; neither is a single bus handle of periph.
package chip
