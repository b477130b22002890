package findings

import (
	"fmt"
	"math"
	"slices"
)

// dictionary checks what was read and makes a dictionary of it, without its
// model.
func (f file) dictionary() (*Dictionary, error) {
	n := len(f.Classes)
	switch {
	case f.Format != format:
		return nil, fmt.Errorf("format is %q, must be %q: %w", f.Format, format, ErrFormat)
	case n < 2 || n > mostClasses || len(f.Units) != n || len(f.Ordinary) != n || len(f.Spread) != n || len(f.Leaks) != n:
		return nil, fmt.Errorf("%d classes, and not as many of all that goes by class: %w", n, ErrFormat)
	case !(f.Exponent > 0 && f.Exponent <= 1) || len(f.Names) == 0 || !finite(f.StrangerSlope, f.StrangerBase):
		return nil, fmt.Errorf("no names, or calibrated to nothing: %w", ErrFormat)
	}
	d := &Dictionary{
		Classes: f.Classes, Key: f.Key, exponent: f.Exponent, ordinary: f.Ordinary, spread: f.Spread,
		strangerSlope: f.StrangerSlope, strangerBase: f.StrangerBase, leaks: f.Leaks, counts: &counts{},
	}
	for i, units := range f.Units {
		if units < 1 || units > mostUnits || len(f.Leaks[i]) != n || !(f.Spread[i] > 0) || !finite(f.Ordinary[i]) || !finite(f.Leaks[i]...) {
			return nil, fmt.Errorf("class %q has %d units, or is badly calibrated: %w", f.Classes[i].Name, units, ErrFormat)
		}
		d.Units += units
		d.counts.units = append(d.counts.units, float64(units))
	}
	for i, name := range f.Names {
		if err := d.take(name); err != nil {
			return nil, fmt.Errorf("name %d, %q: %w", i+1, name.Name, err)
		}
	}
	return d, d.link(f.Names)
}

func finite(list ...float64) bool {
	return !slices.ContainsFunc(list, func(x float64) bool { return math.IsNaN(x) || math.IsInf(x, 0) })
}

// take adds a name with its coding; link adds what refers to other names.
func (d *Dictionary) take(f fileName) error {
	n := known{name: f.Name, label: label{f.Title, f.Unit, f.Channel}}
	for _, k := range f.Kinds {
		if k < int(absent) || k > int(failed) || k == int(estimate) {
			return fmt.Errorf("kind %d is none: %w", k, ErrFormat)
		}
		n.kinds = append(n.kinds, kind(k))
	}
	var err error
	if n.spans, err = spansFrom(f.Spans); err != nil {
		return err
	}
	for i, s := range n.spans {
		if s.isEmpty() || i > 0 && s.low <= n.spans[i-1].high {
			return fmt.Errorf("span %d does not lie above the one before it: %w", i+1, ErrFormat)
		}
	}
	if n.usual, err = spansFrom(f.Usual); err != nil {
		return err
	}
	if len(n.usual) != len(d.Classes) || n.size() > mostCodes {
		return fmt.Errorf("%d codes, and values of %d classes: %w", n.size(), len(n.usual), ErrFormat)
	}
	d.names = append(d.names, n)
	d.counts.sizes = append(d.counts.sizes, n.size())
	return nil
}

// mostCodes is how many codes a name may have: 2 to the mostCuts spans, and the
// kinds.
const mostCodes = 32

func spansFrom(list []float64) ([]span, error) {
	if len(list)%2 != 0 || !finite(list...) {
		return nil, fmt.Errorf("%d ends of spans: %w", len(list), ErrFormat)
	}
	var out []span
	for i := 0; i < len(list); i += 2 {
		out = append(out, span{list[i], list[i+1]})
	}
	return out, nil
}

// link adds the parents, the contexts and the counts of every name.
func (d *Dictionary) link(names []fileName) error {
	k := d.counts
	for i, f := range names {
		for _, p := range []int{f.First, f.Second} {
			if p < noParent || p >= len(names) || p == i {
				return fmt.Errorf("name %q has the parent %d: %w", f.Name, p, ErrFormat)
			}
		}
		if f.First == noParent && f.Second != noParent || !slices.IsSorted(f.Contexts) {
			return fmt.Errorf("name %q has contexts out of order, or a second parent only: %w", f.Name, ErrFormat)
		}
		k.first, k.second = append(k.first, f.First), append(k.second, f.Second)
		seen, err := d.seen(i, f)
		if err != nil {
			return fmt.Errorf("name %q: %w", f.Name, err)
		}
		k.contexts, k.seen = append(k.contexts, f.Contexts), append(k.seen, seen)
	}
	return nil
}

func (d *Dictionary) seen(i int, f fileName) ([]float64, error) {
	sizes := d.counts.sizes
	size := func(p int) int {
		if p == noParent {
			return 1
		}
		return sizes[p]
	}
	for _, ctx := range f.Contexts {
		if int(ctx>>8) >= size(f.First) || int(ctx&0xFF) >= size(f.Second) {
			return nil, fmt.Errorf("context %d is none of its parents': %w", ctx, ErrFormat)
		}
	}
	out := make([]float64, len(f.Contexts)*len(d.Classes)*sizes[i])
	at := 0
	for j := 0; j+1 < len(f.Seen); j += 2 {
		step, n := f.Seen[j], f.Seen[j+1]
		if step < 0 || step >= len(out)-at || n < 1 || n > mostUnits*grain {
			return nil, fmt.Errorf("count %d at %d and %d more: %w", n, at, step, ErrFormat)
		}
		at += step
		out[at] = float64(n) / grain
	}
	return out, nil
}
