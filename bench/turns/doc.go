// Package turns lets the nests of one rig work side by side on one loop.
//
// Each nest is a coroutine: what it does, it does alone, and it gives way only
// where it sleeps. Whoever wakes first runs next, ties by the number of the nest,
// on the virtual clock and on the real one alike; so nothing is shared between
// two goroutines, and on the twin the same seed gives the same bytes.
//
// A transfer on a bus is no sleep. The computer carries one at a time, and every
// nest that is due meanwhile is late by the rest of it. Whatever has an instant to
// keep, such as the heartbeat that the nests share, must therefore keep it by a margin
// that several transfers fit into, and a bus that is busy for the whole of the time makes every nest wait: the
// load of the buses bounds how many nests are worth having.
//
// A nest that ends, well or badly, leaves the others undisturbed. A panic ends
// them all: each gets ErrOver from its next sleep, which is its chance to lead
// its own part of the rig into the safe state.
package turns
