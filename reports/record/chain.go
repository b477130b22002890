package record

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"iter"
)

var (
	// ErrMissing is the cause when an entry of the chain is not there.
	ErrMissing = errors.New("entry missing")
	// ErrMisplaced is the cause when an entry stands where another belongs.
	ErrMisplaced = errors.New("entry out of order")
	// ErrFork is the cause when an entry is whole and signed but follows
	// another entry than the one before it: two histories of one bench.
	ErrFork = errors.New("entry follows another history")
	// ErrHead is the cause when the chain does not hold the given head: its
	// tail was cut off or written anew.
	ErrHead = errors.New("chain does not reach the given head")
)

// Chain checks entries in the order in which they are given. The zero value
// is at the start of a chain and knows no key.
type Chain struct {
	// Keys are the public keys whose signatures count.
	Keys []ed25519.PublicKey
	// Seq and Hash are those of the last good entry; 0 and empty before the
	// first.
	Seq  int64
	Hash string
}

// Next checks that the entry is whole, signed, and follows the last one. It
// wraps ErrMissing for a later entry and ErrMisplaced for an earlier one,
// ErrFork, or what Entry.Verify wraps; the chain then stays where it was.
func (c *Chain) Next(e Entry) error {
	want, previous := c.Seq+1, c.Hash
	if c.Seq == 0 {
		previous = Genesis
	}
	if err := e.Verify(c.Keys...); err != nil {
		return err
	}
	switch {
	case e.Seq > want:
		return fmt.Errorf("entry %d: missing, entry %d stands in its place: %w", want, e.Seq, ErrMissing)
	case e.Seq < want:
		return fmt.Errorf("entry %d: out of order, it stands where entry %d belongs: %w", e.Seq, want, ErrMisplaced)
	case e.Previous != previous:
		return fmt.Errorf("entry %d: follows an entry with hash %.12s…, entry %d has %.12s…: %w",
			e.Seq, e.Previous, c.Seq, previous, ErrFork)
	}
	c.Seq, c.Hash = e.Seq, e.Hash
	return nil
}

// Verify checks a whole sequence of stored entries and stops at the first
// that is altered, missing or out of order, named in the error. The chain
// stands at the last good entry then. That entries were cut off the end
// cannot be seen from what is left; whoever kept the hash of a later entry
// can compare it with what Seen was called with. seen may be nil.
func (c *Chain) Verify(stored iter.Seq2[[]byte, error], seen func(Entry) error) error {
	next, stop := iter.Pull2(stored)
	defer stop()
	for {
		data, err, ok := next()
		if !ok {
			return nil
		}
		if err != nil {
			return fmt.Errorf("entry %d: read: %w", c.Seq+1, err)
		}
		e, err := DecodeEntry(data)
		if err != nil {
			return fmt.Errorf("entry %d: %w: %w", c.Seq+1, ErrAltered, err)
		}
		if err := c.Next(e); err != nil {
			return c.missingOrMisplaced(err, next)
		}
		if seen == nil {
			continue
		}
		if err := seen(e); err != nil {
			return err
		}
	}
}

// missingOrMisplaced tells an entry that is nowhere from one that comes later
// than it should, by reading on.
func (c *Chain) missingOrMisplaced(err error, next func() ([]byte, error, bool)) error {
	if !errors.Is(err, ErrMissing) {
		return err
	}
	for data, readErr, ok := next(); ok && readErr == nil; data, readErr, ok = next() {
		if e, bad := DecodeEntry(data); bad == nil && e.Seq == c.Seq+1 {
			return fmt.Errorf("entry %d: out of order, it stands further back: %w", e.Seq, ErrMisplaced)
		}
	}
	return err
}
