// Package qualification decides whether a new supplier's boards may be bought
// in place of today's.
//
// Two sides are compared: the candidate and the incumbent. Each sent boards in
// lots; every board was tested once that counts, at a place: a bench with its
// nest, on a day, with the papers (wiring, product and scenario file) of then. A
// board is good or bad, a bad one by faults that have a kind; and it gave values
// of characteristics, each between limits.
//
// Four claims stand between the boards and the decision, in this order:
//
//   - The rig is fit: a gauge study over nests, days and re-seats shows that its
//     own spread is small in the room that the limits leave. Else the decision is
//     Refused.
//   - The data compare suppliers and nothing else: lots enough on both sides, both
//     sides at every place, interleaved. What is confounded is Refused as well.
//   - The candidate has no more bad boards than the incumbent, within a margin.
//   - Each characteristic is capable, does not drift from board to board in the
//     order of their serials, and its mean is equivalent to the incumbent's within
//     a margin. The claims about all characteristics share one risk (Holm).
//
// A claim is proved, disproved, or open. All proved is Qualified, one disproved
// is NotQualified; anything else is NotEnough, with how many units it takes. The
// samples' unit is the board; where the lots of a side differ by more than their
// boards explain, it is the lot, since a hundred boards of one lot then say
// little about the next.
//
// An Order says, before any board is tested, which board is tested in which nest on
// which day and in which turn; Follow holds the runs against it.
//
// Margins and terms must stand before the boards are tested. What is undefined
// is NaN, as everywhere below package quality.
package qualification
