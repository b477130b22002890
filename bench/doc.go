// Package bench drives one rig: it puts the unit in front of a supply, waits
// until something is true, and reads channels with their uncertainty.
//
// A Rig is opened from a wiring description and from what the computer offers:
// I2C buses, digital lines and a clock, all behind periph's interfaces. Whether
// these are copper or a simulation the bench cannot know. It never reads a
// file and never knows a limit of a unit.
//
// A condition is entered break before make: first every contact that must
// open opens and the bench waits out the release time, then every contact
// that must close closes. Relays switch cold: solid-state feeds go off first
// and come on last, and VBUS is emptied between conditions. A coil register
// is read back after every write, and what was reached is measured where it
// can be.
//
// A reading is one value with the contributions to its uncertainty, computed
// from the tolerances of the wiring. A wait samples one channel until something
// is true and has held; the instant that it finds carries the sample spacing. A
// capture keeps a waveform. Readings that are taken together share the time of
// the longest, because chips convert side by side. The probe puts a small current
// on VBUS and tells a unit from an empty nest: from the slopes at one level of the
// rise and of the fall that follows it comes the capacitance, whatever loads it.
//
// One loop serves everything. Every bus transfer and every slice of every
// wait first serves the guard: the heartbeat of the coil supply, the
// emergency stop, the lid, the alert pins; lines that were read within the last
// half millisecond are not read again. A loop that hangs therefore drops the
// coils by itself.
//
// The guard trips on a line, on an alert pin or on a reading beyond its limit:
// the coils go off at once, the call that was under way comes back with an
// *Interlock, and the run is over until Begin. Where the coil supply was lost
// only a new Open arms it again.
//
// A Rig drives one nest. Nests of one rig sit at a Table: they take turns on one
// loop and share one heartbeat, which whoever has the turn gives. Each has its own
// guard, so that a lid, an alert or a chip that fails ends the run of its own nest;
// the emergency stop, the end of the heartbeat and a transfer that hung end all.
//
// A bench fault is never a unit fault. Whatever the bench cannot do or cannot
// trust comes back as a *Fault, and the rig leads to its safe state, which is
// confirmed by measuring.
package bench
