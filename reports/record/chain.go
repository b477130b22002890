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
	if err := e.Verify(c.Keys...); err != nil {
		return err
	}
	return c.place(e)
}

// place checks that an entry that is good by itself follows the last one.
func (c *Chain) place(e Entry) error {
	want, previous := c.Seq+1, c.Hash
	if c.Seq == 0 {
		previous = Genesis
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
	return c.Walk(stored, func(Entry) (Document, error) { return nil, nil }, func(e Entry, _ Document) error {
		if seen == nil {
			return nil
		}
		return seen(e)
	})
}

// Walk is Verify for somebody who wants the documents. What concerns an entry alone
// is done on all processors: its form, hash and signature, and what examine does with
// it, whose document seen is given. Complaints come in the order of the chain: those
// of examine after the chain's own about the same entry.
func (c *Chain) Walk(stored iter.Seq2[[]byte, error], examine func(Entry) (Document, error), seen func(Entry, Document) error) error {
	next, stop := iter.Pull(c.examined(stored, examine))
	defer stop()
	for {
		x, ok := next()
		switch {
		case !ok:
			return nil
		case x.unread != nil:
			return fmt.Errorf("entry %d: read: %w", c.Seq+1, x.unread)
		case x.form != nil:
			return fmt.Errorf("entry %d: %w: %w", c.Seq+1, ErrAltered, x.form)
		case x.signature != nil:
			return x.signature
		}
		if err := c.place(x.Entry); err != nil {
			return c.missingOrMisplaced(err, next)
		}
		if x.content != nil {
			return x.content
		}
		if err := seen(x.Entry, x.doc); err != nil {
			return err
		}
	}
}

// examined is an entry with what looking at it alone gave.
type examined struct {
	Entry
	doc Document
	// unread, form, signature and content are what is wrong, in this order.
	unread, form, signature, content error
}

// examinedTogether is how many entries are looked at side by side.
const examinedTogether = 128

// examined looks at every entry by itself, some of them ahead of who asks.
func (c *Chain) examined(stored iter.Seq2[[]byte, error], examine func(Entry) (Document, error)) iter.Seq[examined] {
	keys := c.Keys
	look := func(list []examined, data [][]byte) {
		Spread(len(list), func(i int) {
			x := &list[i]
			if x.unread != nil {
				return
			}
			if x.Entry, x.form = DecodeEntry(data[i]); x.form != nil {
				return
			}
			if x.signature = x.Entry.Verify(keys...); x.signature == nil {
				x.doc, x.content = examine(x.Entry)
			}
		})
	}
	return func(yield func(examined) bool) {
		lists, stop := make(chan []examined, 1), make(chan struct{})
		go func() {
			defer close(lists)
			var list []examined
			var data [][]byte
			give := func() bool {
				look(list, data)
				select {
				case lists <- list:
				case <-stop:
					return false
				}
				list, data = nil, nil
				return true
			}
			for bytes, err := range stored {
				list, data = append(list, examined{unread: err}), append(data, bytes)
				if len(list) == examinedTogether && !give() {
					return
				}
			}
			give()
		}()
		defer func() {
			close(stop)
			for range lists { // until nothing reads any more
			}
		}()
		for list := range lists {
			for _, x := range list {
				if !yield(x) {
					return
				}
			}
		}
	}
}

// missingOrMisplaced tells an entry that is nowhere from one that comes later
// than it should, by reading on.
func (c *Chain) missingOrMisplaced(err error, next func() (examined, bool)) error {
	if !errors.Is(err, ErrMissing) {
		return err
	}
	for x, ok := next(); ok && x.unread == nil; x, ok = next() {
		if x.form == nil && x.Seq == c.Seq+1 {
			return fmt.Errorf("entry %d: out of order, it stands further back: %w", x.Seq, ErrMisplaced)
		}
	}
	return err
}
