package findings

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// ErrDictionary is the cause when no dictionary can be made of what was
// handed in.
var ErrDictionary = errors.New("no fault dictionary can be made")

// Good is the class of the units without a fault.
const Good = "good"

// Class is a kind of unit that a dictionary knows.
type Class struct {
	// Name is Good, or the name of a fault.
	Name string `json:"name"`
	// Title is how a person calls it.
	Title string `json:"title"`
	// Rework is what to do about it.
	Rework string `json:"rework,omitempty"`
}

// leastUnits is how many units of a class a dictionary wants: with fewer, what
// was not seen says little. Common practice, no source.
const leastUnits = 10

// parts is the number of parts that the units are dealt into: the counts of
// four judge the fifth.
const parts = 5

// mostClasses and mostUnits bound a dictionary; a code must fit a byte and a
// count what the file keeps.
const (
	mostClasses = 200
	mostUnits   = 1 << 20
)

// Builder collects the signatures of units whose class is known.
type Builder struct {
	classes []Class
	index   map[string]int
	// names are in the order in which they first came up.
	names   []string
	number  map[string]int
	titles  map[string]label
	called  Titles
	asked   map[string]bool
	units   []built
	perUnit []int
}

// built is one unit: what was seen of it by the number of its name. Names
// that came up after it are absent.
type built struct {
	class, part int
	seen        []observation
}

func (u built) at(name int) observation {
	if name < len(u.seen) {
		return u.seen[name]
	}
	return observation{}
}

// NewBuilder starts a dictionary of the classes. It wraps ErrDictionary where
// they are fewer than two, or one stands twice.
func NewBuilder(classes []Class) (*Builder, error) {
	b := &Builder{
		classes: slices.Clone(classes), index: map[string]int{}, number: map[string]int{},
		titles: map[string]label{}, asked: map[string]bool{}, perUnit: make([]int, len(classes)),
	}
	if len(classes) < 2 || len(classes) > mostClasses {
		return nil, fmt.Errorf("%d classes, must be 2 to %d: %w", len(classes), mostClasses, ErrDictionary)
	}
	for i, c := range classes {
		if _, twice := b.index[c.Name]; twice || c.Name == "" {
			return nil, fmt.Errorf("class %d is called %q, must have a name of its own: %w", i+1, c.Name, ErrDictionary)
		}
		b.index[c.Name] = i
	}
	return b, nil
}

// Call gives titles to the readings that no check rests on alone, for all units
// that are added after it.
func (b *Builder) Call(t Titles) { b.called = t }

// Add takes the signature of one unit of a class. The same units in the same
// order make the same dictionary.
func (b *Builder) Add(class string, s Signature) error {
	i, ok := b.index[class]
	if !ok {
		return fmt.Errorf("add a unit of class %q: the dictionary has none: %w", class, ErrDictionary)
	}
	if len(b.units) >= mostUnits {
		return fmt.Errorf("add a unit of class %q: there are %d already: %w", class, mostUnits, ErrDictionary)
	}
	unit := built{class: i, part: b.perUnit[i] % parts, seen: make([]observation, len(b.names), len(b.names)+len(s.seen))}
	b.perUnit[i]++
	for _, name := range s.names {
		n, known := b.number[name]
		if !known {
			n = len(b.names)
			b.number[name] = n
			b.names = append(b.names, name)
			b.titles[name] = b.called.label(name, s.titles[name])
			unit.seen = append(unit.seen, observation{})
		}
		unit.seen[n] = s.seen[name]
	}
	for name := range s.asked {
		b.asked[name] = true
	}
	unit.seen = slices.Clip(unit.seen)
	b.units = append(b.units, unit)
	return nil
}

// Dictionary makes the dictionary. It wraps ErrDictionary where a class has
// too few units, or nothing tells the classes apart.
func (b *Builder) Dictionary() (*Dictionary, error) {
	for i, n := range b.perUnit {
		if n < leastUnits {
			return nil, fmt.Errorf("class %q has %d units, must have %d or more: %w", b.classes[i].Name, n, leastUnits, ErrDictionary)
		}
	}
	d := &Dictionary{Classes: b.classes, Units: len(b.units)}
	c := b.chart(d)
	if len(d.names) == 0 {
		return nil, fmt.Errorf("every unit of every class gives the same: %w", ErrDictionary)
	}
	d.counts = count(c, c.network(), func(row) bool { return true })
	d.counts.grind()
	d.calibrate(c)
	d.finish()
	return d, nil
}

// chart codes every observation, and keeps the names that tell something.
func (b *Builder) chart(d *Dictionary) *chart {
	c := &chart{classes: len(b.classes), rows: make([]row, len(b.units))}
	for i, u := range b.units {
		c.rows[i] = row{class: u.class, part: u.part}
	}
	samples := make([]sample, len(b.units))
	for n, name := range b.names {
		if !b.ordinary(n) {
			continue
		}
		for i, u := range b.units {
			samples[i] = sample{u.at(n), u.class}
		}
		// What no check rests on was read to wait for something: that it was
		// reached says something of the unit, its value of the bench's instants.
		cuts := mostCuts
		if !b.asked[name] && !strings.HasPrefix(name, checked) {
			cuts = 0
		}
		code := newCoding(samples, len(b.classes), cuts)
		if code.size() <= firstCode+1 {
			continue
		}
		d.names = append(d.names, known{name: name, label: b.titles[name], coding: code, usual: b.usual(n)})
		c.sizes = append(c.sizes, code.size())
		beside := code.beside(samples, len(b.classes))
		for i := range samples {
			r := &c.rows[i]
			r.codes = append(r.codes, uint8(code.code(samples[i].observation)))
			r.beside = append(r.beside, beside[i])
		}
	}
	return c
}

// ordinary tells a name that most units without a fault have from one that
// only trouble brings, such as a reading that is taken again with the unit
// lifted: what that says has been said by the one before. A dictionary
// without good units takes every name.
func (b *Builder) ordinary(name int) bool {
	good, ok := b.index[Good]
	if !ok {
		return true
	}
	have := 0
	for _, u := range b.units {
		if u.class == good && u.at(name).kind != absent {
			have++
		}
	}
	return 2*have >= b.perUnit[good]
}

// usual are the lowest and the highest value that each class gave, without
// the outermost hundredth on either side; an empty span where it gave none.
func (b *Builder) usual(name int) []span {
	values := make([][]float64, len(b.classes))
	for _, u := range b.units {
		if o := u.at(name); o.kind == estimate {
			values[u.class] = append(values[u.class], o.value)
		}
	}
	out := make([]span, len(values))
	for i, v := range values {
		out[i] = empty()
		if len(v) > 0 {
			slices.SortFunc(v, cmp.Compare[float64])
			out[i] = span{rounded(v[len(v)/100]), rounded(v[len(v)-1-len(v)/100])}
		}
	}
	return out
}
