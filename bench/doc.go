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
// One loop serves everything. Every bus transfer and every slice of every
// wait first serves the guard: the heartbeat of the coil supply, the
// emergency stop, the lid, the alert pins. A loop that hangs therefore drops
// the coils by itself.
//
// A bench fault is never a unit fault. Whatever the bench cannot do or cannot
// trust comes back as a *Fault, and the rig leads to its safe state, which is
// confirmed by measuring.
package bench
