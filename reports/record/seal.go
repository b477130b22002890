package record

import (
	"crypto/ed25519"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
)

// Seal makes the entry that follows prev, which is nil at the start of a
// chain, and signs it. It wraps what the document's encoder wraps, or ErrKey.
// Same inputs give the same bytes: Ed25519 needs no randomness to sign.
func Seal(prev *Entry, doc Document, key ed25519.PrivateKey) (Entry, error) {
	entries, err := SealAll(prev, []Document{doc}, key)
	if err != nil {
		return Entry{}, err
	}
	return entries[0], nil
}

// SealAll makes the entries that follow prev, each the one before it, as Seal makes
// them one by one. Documents are encoded and entries are signed on all processors:
// what must wait for the entry before is the hash alone. It wraps what Seal wraps,
// for the first document that is wrong.
func SealAll(prev *Entry, docs []Document, key ed25519.PrivateKey) ([]Entry, error) {
	if len(key) != ed25519.PrivateKeySize {
		return nil, fmt.Errorf("entry: seal: private key of %d bytes, must be %d: %w",
			len(key), ed25519.PrivateKeySize, ErrKey)
	}
	entries, errs := make([]Entry, len(docs)), make([]error, len(docs))
	id := KeyID(Public(key))
	Spread(len(docs), func(i int) {
		var body []byte
		body, errs[i] = docs[i].encode()
		entries[i] = Entry{Kind: docs[i].Kind(), Body: body, Key: id}
	})
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("entry: seal %s: %w", docs[i].Kind(), err)
		}
	}
	signed := make([][]byte, len(docs))
	seq, hash := int64(0), Genesis
	if prev != nil {
		seq, hash = prev.Seq, prev.Hash
	}
	for i := range entries {
		e := &entries[i]
		seq++
		e.Seq, e.Previous = seq, hash
		signed[i] = e.signedForm()
		hash = hashOf(signed[i])
		e.Hash = hash
	}
	// Go keeps what it has worked out of a key; the first use of it is made alone,
	// because the race detector finds two first ones at once in each other's way.
	sign := func(i int) { entries[i].Signature = ed25519.Sign(key, signed[i]) }
	if len(docs) > 0 {
		sign(0)
		Spread(len(docs)-1, func(i int) { sign(i + 1) })
	}
	return entries, nil
}

// Spread calls do for every number below n, on all processors, and returns when
// all is done.
func Spread(n int, do func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers < 2 {
		for i := range n {
			do(i)
		}
		return
	}
	var next atomic.Int64
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				do(int(i))
			}
		})
	}
	all.Wait()
}
