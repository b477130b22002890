package twin

import (
	"fmt"
	"strings"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
)

// Rig is a simulated rig with all its nests: a Twin for each, since their circuits
// touch each other nowhere but at ground, on one computer and one time. Its parts
// are drawn for each nest anew; a unit is the same in whichever nest it is seated.
type Rig struct {
	Nests []*Twin
	first []*line // one of each line of the computer, in the order of the rig
	buses []*bus
}

// NewRig builds every nest of a rig, empty. The first is drawn from the seed as it
// is, each further one from the next; a rig with one nest is therefore what New
// makes.
func NewRig(c Config) (*Rig, error) {
	if c.Wiring == nil {
		return nil, fmt.Errorf("make a twin without wiring: %w", ErrConfig)
	}
	if c.Base == nil {
		c.Base = &virtual{pace: c.Pace}
	}
	r := &Rig{}
	for i, view := range c.Wiring.ByNest() {
		own := c
		own.Wiring, own.Seed = view, c.Seed+uint64(i)
		t, err := New(own)
		if err != nil {
			return nil, fmt.Errorf("nest %s: %w", view.Nest.Name, err)
		}
		t.units = c.Seed
		r.join(t)
		r.Nests = append(r.Nests, t)
	}
	return r, nil
}

// join puts a nest's chips on the buses, and its coils on the lines, that nests
// before it share.
func (r *Rig) join(t *Twin) {
	for i, b := range t.buses {
		shared := r.bus(b.name)
		if shared == nil {
			r.buses = append(r.buses, b)
			continue
		}
		for address, list := range b.chips {
			shared.chips[address] = append(shared.chips[address], list...)
		}
		t.buses[i] = shared
	}
	for i, l := range t.lines {
		if shared := r.line(l.name); shared != nil {
			shared.others = append(shared.others, t)
			t.lines[i] = shared
			continue
		}
		r.first = append(r.first, l)
	}
}

func (r *Rig) bus(name string) *bus {
	for _, b := range r.buses {
		if b.name == name {
			return b
		}
	}
	return nil
}

func (r *Rig) line(name string) *line {
	for _, l := range r.first {
		if l.name == name {
			return l
		}
	}
	return nil
}

// Hardware returns the buses, the lines and the clock of the computer: everything
// that the benches of all nests can reach.
func (r *Rig) Hardware() bench.Hardware {
	hw := bench.Hardware{Buses: map[string]i2c.Bus{}, Lines: map[string]gpio.PinIO{}, Clock: r.Nests[0].clock()}
	for _, b := range r.buses {
		hw.Buses[b.name] = b
	}
	for _, l := range r.first {
		hw.Lines[l.name] = l
	}
	return hw
}

// Break makes the rig faulty. A part of one nest is named with it, as in
// nest-2/adc1; a lid is opened by naming its nest alone. A bus or a line of the
// computer needs no nest, and what all nests share fails for all: pressing the stop
// stops each of them. A rig with one nest takes every name as it is.
func (r *Rig) Break(f RigFault) error {
	if len(r.Nests) == 1 {
		return r.Nests[0].Break(f)
	}
	nest, part, qualified := strings.Cut(f.Part, "/")
	if f.Kind == LidOpened {
		nest, part, qualified = f.Part, "", true
	}
	if qualified {
		for _, t := range r.Nests {
			if t.config.Wiring.Nest.Name == nest {
				f.Part = part
				return t.Break(f)
			}
		}
		return fmt.Errorf("break the rig: %s: nest %q: %w", f.Kind, nest, ErrNoSuchName)
	}
	touched := false
	for _, t := range r.Nests {
		if f.Kind != StopPressed && !t.reaches(f.Part) {
			continue
		}
		if err := t.Break(f); err != nil {
			return err
		}
		if touched = true; f.Kind != StopPressed && f.Kind != MonostableStuck && f.Kind != ChainBypassed {
			break // the nests share the bus or line itself
		}
	}
	if !touched {
		return fmt.Errorf("break the rig: %s %q: a part of a nest is named with it, as in %s/%s: %w",
			f.Kind, f.Part, r.Nests[0].config.Wiring.Nest.Name, f.Part, ErrNoSuchName)
	}
	return nil
}

// reaches tells whether a nest is on a bus, or has a line, of a name.
func (t *Twin) reaches(name string) bool {
	_, line := t.config.Wiring.Line(name)
	return line || t.bus(name) != nil
}

// Release releases the stop and shuts every lid.
func (r *Rig) Release() {
	for _, t := range r.Nests {
		t.Release()
	}
}

// Wiring is the description of a nest: the rig as that nest sees it.
func (t *Twin) Wiring() *wiring.Rig { return t.config.Wiring }
