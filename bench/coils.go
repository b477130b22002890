package bench

import (
	"errors"
	"fmt"
	"math/bits"
	"time"

	"sinkproof/bench/chip/expander16"
	"sinkproof/bench/wiring"
)

// mostExpanders is how many expanders of one bus have an address of their own
// (20h to 27h).
const mostExpanders = 8

// pattern is one bit for every expander output; a set bit is a coil or select
// that is on.
type pattern [mostExpanders]uint16

func (p pattern) and(q pattern) pattern {
	for i := range p {
		p[i] &= q[i]
	}
	return p
}

func (p pattern) or(q pattern) pattern {
	for i := range p {
		p[i] |= q[i]
	}
	return p
}

func (p pattern) without(q pattern) pattern {
	for i := range p {
		p[i] &^= q[i]
	}
	return p
}

func (p pattern) differs(q pattern) pattern {
	for i := range p {
		p[i] ^= q[i]
	}
	return p
}

func (p pattern) empty() bool { return p == pattern{} }

// count is how many outputs are on.
func (p pattern) count() int {
	n := 0
	for _, word := range p {
		n += bits.OnesCount16(word)
	}
	return n
}

// coil is one expander output.
type coil struct {
	name string
	chip int // the expander, as the bank counts them
	bit  uint16
	// opens and shuts are the longest times until its contacts stand still after
	// it went off or on; zero for a select.
	opens, shuts time.Duration
}

// in tells whether a pattern has the coil on.
func (c *coil) in(p *pattern) bool { return p[c.chip]&c.bit != 0 }

// alone is the pattern of this coil and no other.
func (c *coil) alone() pattern {
	var p pattern
	p[c.chip] = c.bit
	return p
}

// bank is all coils and selects of a rig, with the expanders that drive them.
type bank struct {
	coils []coil
	// solid are the semiconductor switches, contacts the relays, selects the
	// outputs that switch no contact.
	solid, contacts, selects pattern
	names                    []string // of the expanders
	devs                     []*expander16.Dev
	// now is what was last written and read back.
	now pattern
}

// outputs sorts the coils and selects of a rig onto its expanders.
func outputs(w *wiring.Rig) (*bank, error) {
	b := &bank{}
	place := map[string]int{}
	for i := range w.Chips {
		if w.Chips[i].Kind == wiring.Expander {
			place[w.Chips[i].Name] = len(b.names)
			b.names = append(b.names, w.Chips[i].Name)
		}
	}
	if len(b.names) > mostExpanders {
		return nil, fmt.Errorf("%d expanders, at most %d have an address", len(b.names), mostExpanders)
	}
	add := func(name string, pin wiring.Pin, k *wiring.Relay, group *pattern) error {
		i, ok := place[pin.Chip]
		if !ok || pin.Bit < 0 || pin.Bit > 15 {
			return fmt.Errorf("output %s: no expander %q with a pin %d", name, pin.Chip, pin.Bit)
		}
		c := coil{name: name, chip: i, bit: 1 << pin.Bit}
		if k != nil {
			c.opens, c.shuts = seconds(k.Release.SI+k.Bounce.SI), seconds(k.Operate.SI+k.Bounce.SI)
		}
		*group = group.or(c.alone())
		b.coils = append(b.coils, c)
		return nil
	}
	var errs []error
	for i := range w.Relays {
		k := &w.Relays[i]
		group := &b.contacts
		if k.SolidState {
			group = &b.solid
		}
		errs = append(errs, add(k.Name, k.Coil, k, group))
	}
	for i := range w.Selects {
		errs = append(errs, add(w.Selects[i].Name, w.Selects[i].Pin, nil, &b.selects))
	}
	return b, errors.Join(errs...)
}

// all is every output of the bank.
func (b *bank) all() pattern { return b.solid.or(b.contacts).or(b.selects) }

// patternOf turns names into a pattern.
func (b *bank) patternOf(names []string) (pattern, error) {
	var p pattern
	for _, n := range names {
		w, ok := b.find(n)
		if !ok {
			return p, fmt.Errorf("output %q: %w", n, wiring.ErrUnknown)
		}
		p = p.or(w)
	}
	return p, nil
}

func (b *bank) find(name string) (pattern, bool) {
	for i := range b.coils {
		if b.coils[i].name == name {
			return b.coils[i].alone(), true
		}
	}
	return pattern{}, false
}

// write brings the expanders to a pattern, those that change only, and reads
// back. On an error now is what is known to hold.
func (b *bank) write(want pattern) error {
	for i, d := range b.devs {
		if want[i] == b.now[i] {
			continue
		}
		if err := d.Write(want[i]); err != nil {
			return &Fault{What: "write and read back coils", Thing: b.names[i],
				Hint: "Check the expander's supply and its drivers, then run the self-test.", Err: err}
		}
		b.now[i] = want[i]
	}
	return nil
}

// off writes every coil off and reads back. It tries every expander, whatever
// became of the others, and names those that could not be proven.
func (b *bank) off() []error {
	var errs []error
	for i, d := range b.devs {
		if d == nil {
			continue
		}
		if err := d.Halt(); err != nil {
			errs = append(errs, &Fault{What: "prove the coils off", Thing: b.names[i],
				Hint: "Take the coil supply away before you touch the nest.", Err: err})
			continue
		}
		b.now[i] = 0
	}
	return errs
}

// open is the longest time until the contacts of a pattern stand still after their
// coils went off.
func (b *bank) open(p pattern) time.Duration {
	var longest time.Duration
	for i := range b.coils {
		if c := &b.coils[i]; c.in(&p) {
			longest = max(longest, c.opens)
		}
	}
	return longest
}

// shut is open for coils that went on.
func (b *bank) shut(p pattern) time.Duration {
	var longest time.Duration
	for i := range b.coils {
		if c := &b.coils[i]; c.in(&p) {
			longest = max(longest, c.shuts)
		}
	}
	return longest
}

// seconds converts SI seconds, rounded up: a contact is never trusted early.
func seconds(s float64) time.Duration {
	d := time.Duration(s * float64(time.Second))
	if d.Seconds() < s {
		d++
	}
	return d
}
