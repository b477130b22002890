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
// The nests of a rig share the computer, its buses, the heartbeat and the
// emergency stop, and nothing that touches a unit. They are built alike: what a
// Rig says of nets, parts, relays, supplies, channels and conditions stands once
// and is there in every nest, with chips that answer at places of their own and
// with its own lid, arm pulse and sense of the coil supply. A Rig is therefore
// always seen from one nest; ByNest gives the view of each.
//
// Nominal and tolerance of every part stand here once. The uncertainty
// budget, the simulated rig and the drawn schematic all read this one place.
//
// A setting is a condition with a value for each of its axes; a state is the
// setting resolved into what is on, with the feeds (the solid-state switches
// that come on last and go off first) apart. A mistake is where a rig
// contradicts itself; a violation is where it would be unsafe.
//
// The safety proof works on these values alone, before anything moves. Two
// nets are joined by a path below the rig's isolation resistance. A weld is a
// single contact that would join two supplies if it did not let go. A bound is
// the highest voltage that any setting, or any moment on the way to it, can
// bring to a net, whichever pins a broken unit joins.
package wiring
