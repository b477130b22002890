// Package proving proves a rig before it judges units.
//
// A self-test leads the rig through states of its own, which stand in the
// wiring file under conditions whose names begin with "self-test", so that the
// safety proof covers them. In every state all channels are read. Nothing is
// believed that a chip only reports: a contact is what a voltage shows.
//
// What a healthy rig reads is computed from the wiring: nominal values give the
// value, all tolerances at their worst ends the limits. Where a value cannot be
// explained so, every single fault that the wiring allows for is put into the
// same circuit, one after the other: each contact that stays closed or does not
// close, each coil, select and supply, the gain of each channel, each pin of
// the test plug. A suspect is a fault with which every reading of every state
// lies where it should; one that has a size (a gain, a drift, a worn pin) must
// have the same size everywhere. Ratios of two channels in one state are
// compared as well, because what moves both alike cancels in them.
//
// A finding names its suspects: one, or a group that no measurement of this rig
// tells apart. Those groups are computed, not written down; for the shipped rig
// they stand in testdata.
//
// The check receptacle is a passive board that is seated in place of a unit.
// Without it the contacts of the test plug are not proved, and the report says
// so. The data pair is: a contact of its own brings it to the CC instruments.
//
// A proof is the part of a self-test that a bench repeats before it fails a unit:
// the states of the empty nest, then those with the check receptacle, judged together.
//
// What no circuit shows is tried: alerts against limits that are set below what
// flows, the heartbeat by stopping it on purpose, the stop and the lid by hand.
package proving
