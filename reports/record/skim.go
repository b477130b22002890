package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"strconv"
)

// Skimmer reads of stored entries what questions about many runs ask for, and over
// the rest: some twenty times as fast as decoding. It is told nothing about the
// form of what it reads over, and proves nothing but the chain of hashes.
//
// A skimmer remembers texts, which repeat from run to run. It is for one goroutine.
type Skimmer struct {
	texts map[string]string
}

// mostTexts is how many texts are remembered: far more than a product has titles,
// sources and the like, and little memory where every one differs.
const mostTexts = 10_000

// text is a text of a document, the same one for the same bytes.
func (s *Skimmer) text(c *cursor) string {
	b := c.text()
	if known, ok := s.texts[string(b)]; ok {
		return known
	}
	if s.texts == nil {
		s.texts = map[string]string{}
	}
	if len(s.texts) >= mostTexts {
		maps.DeleteFunc(s.texts, func(string, string) bool { return true })
	}
	text := string(b)
	s.texts[text] = text
	return text
}

// Entry reads an entry, whose body shares the bytes, and demands that its content
// hashes to what it says. It wraps ErrForm or ErrAltered.
func (s *Skimmer) Entry(data []byte) (Entry, error) {
	c := cursor{data: data}
	var e Entry
	c.word(`{"body":`)
	// Nothing behind the body holds what its end is known by, and in a text of it
	// the quotes would be escaped.
	end := bytes.LastIndex(data, []byte(`,"hash":"`))
	if end < c.at || c.bad {
		return Entry{}, fmt.Errorf("entry: skim: %w", ErrForm)
	}
	e.Body, c.at = data[c.at:end], end
	c.word(`,"hash":`)
	hash := c.text()
	tail := c.at
	c.word(`,"key":`)
	c.skip()
	c.word(`,"kind":`)
	e.Kind = Kind(s.text(&c))
	c.word(`,"previous":`)
	e.Previous = string(c.text())
	c.word(`,"schema":`)
	c.skip()
	c.word(`,"seq":`)
	e.Seq = c.whole()
	end = c.at
	c.word(`,"signature":`)
	c.skip()
	c.take('}')
	if c.bad || c.at != len(data) {
		return Entry{}, fmt.Errorf("entry: skim: %w", ErrForm)
	}
	sum := sha256.New()
	for _, part := range [][]byte{[]byte(`{"body":`), e.Body, data[tail:end], []byte("}")} {
		sum.Write(part) // a hash takes every write
	}
	e.Hash = hex.EncodeToString(sum.Sum(nil))
	if e.Hash != string(hash) {
		return Entry{}, fmt.Errorf("entry %d: content hashes to %.12s…, the entry says %.12s…: %w", e.Seq, e.Hash, hash, ErrAltered)
	}
	return e, nil
}

// Run reads the record in the body of an entry: its identity but for the rule of
// decision, verdict, checks without their texts and instants, names of readings,
// titles of suspects. It wraps ErrForm.
func (s *Skimmer) Run(body []byte) (Run, error) {
	c := cursor{data: body}
	var r Run
	c.members(func(name []byte) {
		switch string(name) {
		case "attempt":
			r.Attempt = int(c.whole())
		case "bench":
			s.bench(&c, &r.Bench)
		case "checks":
			r.Checks = make([]Check, 0, 24)
			c.list(func() { r.Checks = append(r.Checks, s.check(&c)) })
		case "files":
			c.list(func() { r.Files = append(r.Files, s.file(&c)) })
		case "id":
			r.ID = string(c.text())
		case "lot":
			r.Lot = s.text(&c)
		case "nest":
			r.Nest = int(c.whole())
		case "product":
			r.Product = s.text(&c)
		case "readings":
			r.Readings = make([]Reading, 0, 64)
			c.list(func() { r.Readings = append(r.Readings, Reading{Name: s.only(&c, "name")}) })
		case "serial":
			r.Serial = string(c.text())
		case "started":
			r.Started = string(c.text())
		case "supplier":
			r.Supplier = s.text(&c)
		case "suspects":
			c.list(func() { r.Suspects = append(r.Suspects, Finding{Title: s.only(&c, "title")}) })
		case "verdict":
			r.Verdict = Verdict(s.text(&c))
		default:
			c.skip()
		}
	})
	if c.bad || c.at != len(body) {
		return Run{}, fmt.Errorf("record: skim: not in canonical form at byte %s: %w", strconv.Itoa(c.at), ErrForm)
	}
	return r, nil
}

// only reads one text of a member's members.
func (s *Skimmer) only(c *cursor, wanted string) string {
	var text string
	c.members(func(name []byte) {
		if string(name) == wanted {
			text = s.text(c)
		} else {
			c.skip()
		}
	})
	return text
}

func (s *Skimmer) bench(c *cursor, b *Bench) {
	c.members(func(name []byte) {
		switch string(name) {
		case "kind":
			b.Kind = s.text(c)
		case "name":
			b.Name = s.text(c)
		default:
			c.skip()
		}
	})
}

func (s *Skimmer) file(c *cursor) File {
	var f File
	c.members(func(name []byte) {
		switch string(name) {
		case "name":
			f.Name = s.text(c)
		case "role":
			f.Role = s.text(c)
		case "sha256":
			f.SHA256 = s.text(c)
		case "version":
			f.Version = s.text(c)
		default:
			c.skip()
		}
	})
	return f
}

func (s *Skimmer) check(c *cursor) Check {
	var x Check
	c.members(func(name []byte) {
		switch string(name) {
		case "answer":
			x.Answer = Answer(s.text(c))
		case "control":
			x.Control = c.peek() == 't'
			c.skip()
		case "lower":
			x.Lower = s.limit(c)
		case "name":
			x.Name = s.text(c)
		case "title":
			x.Title = s.text(c)
		case "upper":
			x.Upper = s.limit(c)
		case "value":
			x.Value = s.value(c)
		default:
			c.skip()
		}
	})
	return x
}

// limit reads the tolerance limit alone.
func (s *Skimmer) limit(c *cursor) *Limit {
	var l Limit
	c.members(func(name []byte) {
		switch string(name) {
		case "unit":
			l.Unit = s.text(c)
		case "value":
			l.Value = c.float()
		default:
			c.skip()
		}
	})
	return &l
}

// value reads all of a value but its uncertainty.
func (s *Skimmer) value(c *cursor) *Value {
	var v Value
	c.members(func(name []byte) {
		switch string(name) {
		case "bound":
			v.Bound = s.text(c)
		case "unit":
			v.Unit = s.text(c)
		case "value":
			v.Value = c.float()
		default:
			c.skip()
		}
	})
	return &v
}
