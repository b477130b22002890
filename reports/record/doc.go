// Package record defines the record: a run as kept, signed, chained to the
// record before it, and never changed.
//
// A run is one execution of a scenario on one unit. While it lasts it emits
// events (opened, asked, moved, read, captured, answered, noted, faulted,
// closed), and the record is their fold: whoever watches the run live sees
// the same events that the record is made of. A Feed hands them to observers,
// which can be as slow as they like without holding up the run.
//
// A record is one JSON document. Its schema is published beside the code
// (Schema), its numbers are JSON numbers, and what is undefined is absent:
// null, NaN and the infinities do not occur. Every instant is an offset in
// whole microseconds from the run's one wall-clock start, because a small
// computer's clock may jump and has no battery, while offsets come from one
// monotonic source.
//
// An entry is a link of the chain of a bench: its number, the hash of the
// entry before, a kind, and a body. The canonical form (RFC 8785) of these is
// hashed with SHA-256 and signed with Ed25519 (RFC 8032). A run makes two
// entries: its opening, committed before a coil moves, and its closing, which
// carries the whole record. An opening without a closing is closed as
// interrupted at the next start.
//
// A calibration is an entry of the same chain: what the bench was compared
// with, and what follows for its readings. Records name the one they stand on.
//
// A golden unit is a unit with a known answer. Its registration says what is
// expected of it; a golden run is the record of a run of it together with its
// answer. One that deviates is followed by a suspicion, which names every record
// since the last good answer. What an entry says about earlier ones (a
// suspicion, its withdrawal, a clock that was set) leaves them as they are.
//
// An incoming lot is opened by the draw of its sample, which stands in the chain
// before any of the units is tested: nobody can choose them. Its judgement
// counts the first answer of each that could be trusted.
//
// A test order says in which order the boards of two suppliers are tested, in which
// nests and on which days. It is drawn in the chain as the sample of a lot is, and
// for the same reason.
//
// A document and an entry name the oldest version of the schema that describes
// them, so that a program that knows the first version reads all that needs no
// other.
//
// The package is a leaf: it reads and writes nothing but keys, and knows
// neither rig nor ledger.
package record
