// Package spice checks package circuit against ngspice, a general-purpose
// circuit simulator.
//
// A [deck] is the network of a circuit.Sim at its present instant as an ngspice
// netlist: contacts as they are, capacitors with their voltages, and every
// piecewise element with its whole characteristic, so that ngspice finds the
// changes of segment itself. What a charger remembers (lock-out, stage, soft
// start step, end of charge) is exported as of now; a comparison in time ends
// where that changes. [DC] and [Transient] run ngspice, [CompareDC] and
// [Compare] set both answers side by side within the tolerances of this project:
// 0.1 % + 1 mV at rest, 1 % + 5 mV in time. A [Batch] does both for many circuits
// in one process of ngspice.
//
// It needs the program ngspice (Debian package ngspice); without it everything
// fails with [ErrMissing].
package spice
