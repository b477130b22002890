// Package scenarios holds the language in which a test is written down, and
// runs what is written in it.
//
// A scenario is the ordered questions that are put to the units of a product.
// It is made of stages. A stage enters a condition of the rig, perhaps another
// one after it, and holds steps: a probe shows that something is seated, a wait
// ends when a channel does what is asked for, a read takes one value, a sample
// takes many over a time, a capture keeps a waveform, a reseat asks the operator
// to plug once more. What a step measures is a reading, and has a name.
//
// A check holds a value, computed from readings, against limits that state
// their source. A control is a question put to the bench: without its right
// answer the checks that trust it cannot be answered. A gate is a check in the
// stage that probes: only past it does the bench apply power.
//
// Load proves a scenario against one rig and one product before anything
// moves: names, dimensions, order, limits, reach. What the product makes
// impossible becomes a check that is not observable; it is listed and never
// dropped. Everything that is wrong comes back at once.
//
// Run executes a loaded scenario on one unit. It emits the events of the
// record, judges each value with its uncertainty (JCGM 106:2012), and ends
// with the rig isolated whatever happens. What the bench could not do is never
// the unit's fault: such checks stay unanswered, and the verdict is none. Before a
// unit is failed the bench proves itself, with its nest empty and then with a
// check receptacle that shows the pins of the plug.
//
// LANGUAGE.md is the specification of the language; its examples are tests of
// this package.
package scenarios
