// Package ledger is the store of records: one chain of signed entries per
// bench, in one SQLite file.
//
// An entry is committed in a transaction of its own, and a commit is on the
// disk before it returns (write-ahead log, synchronous=FULL). The opening of
// a run is committed before a coil moves, its closing carries the whole
// record. A run that was left open by a program that ended under it is closed
// as interrupted when the ledger is opened the next time: nobody can pull the
// plug on a failing unit and retest it unseen.
//
// The file holds two tables. "entries" keeps the bytes of every entry as they
// were signed; they are never changed and never migrated. "history" is a
// projection of them, one row of columns per entry, that answers questions by
// serial, lot or verdict. It proves nothing: Rebuild makes it anew from the
// entries, and Verify recomputes it and names the first column that differs.
//
// Questions about many runs (Values) are answered from a third place, and from
// nowhere else: a file of columns beside the ledger. It is made of the entries, each
// held against its hash and the entry before, and follows them whenever it is
// opened. It proves nothing and may be deleted; one that does not fit the chain, is
// of another version or damaged, is made anew and never believed. Verify holds what
// would be read against the entries as well.
//
// A golden unit is registered with what is expected of it, and its runs are
// entries of their own kinds, which no question about products sees. One that
// deviates is committed together with the suspicion that follows, which names
// every record of the bench since its last good answer: no power cut comes
// between, and verification works the suspicion out anew.
//
// An incoming lot is opened by the draw of its sample; the plan follows from the
// supplier's lots before, the drawn units from a seed and the place in the
// chain. Its judgement counts the first answers of these units. Verification
// works all of that out anew.
//
// The order in which two suppliers' boards are tested is drawn as a sample is: by a
// seed and its place in the chain, before any board is run, and again by
// verification.
//
// A Ledger writes, and only one program at a time can hold it. A View reads,
// needs no key, and works beside a writer.
package ledger
