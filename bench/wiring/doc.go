// Package wiring describes a test rig as values: what is soldered to what,
// what can be switched, what can be measured, and in front of which supply a
// unit stands when a given set of coils is on.
//
// A Rig has nets (named nodes of copper) and parts between nets (resistors,
// capacitors, clamps). A relay moves contacts of form A (make) or form C
// (change-over) when the coil on its expander output is on; a solid-state
// switch is a relay that may switch a load. A select is an expander output
// that switches no contact but tells a supply what to do. A supply drives
// nets. A channel is one quantity that the rig can measure on a net. A
// condition is a named set of relays and selects; its axes (orientation,
// advertisement and so on) each add to the set, so that one condition stands
// for several settings. A nest seats one unit: it says which net lies at
// which pin of the test plug.
//
// Nominal and tolerance of every part stand here once. The uncertainty
// budget, the simulated rig and the drawn schematic all read this one place.
//
// The safety proof works on these values alone, before anything moves.
package wiring
