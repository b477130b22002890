package population

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"iter"
	"slices"
	"strconv"
	"strings"
)

// ErrPlan is the cause when a plan cannot be carried out.
var ErrPlan = errors.New("no such population can be made")

// Good is the name of the class without a fault.
const Good = "good"

// Class is a kind of unit.
type Class struct {
	// Name is Good, or the names of the faults joined by "+".
	Name   string
	Faults []string
	// Units is how many there are.
	Units int
}

// ClassOf returns the class of the faults; without one it is the good class.
func ClassOf(units int, faults ...string) Class {
	c := Class{Name: Good, Faults: faults, Units: units}
	if len(faults) > 0 {
		c.Name = strings.Join(faults, "+")
	}
	return c
}

// Rig is one draw of the rig.
type Rig struct {
	// Number counts the rigs of a plan from 0.
	Number int
	// Seed is what everything is drawn from, on the rig and in its units.
	Seed uint64
}

// Unit is one unit of a population.
type Unit struct {
	Class  string
	Faults []string
	// Index is its place in the plan, from 0.
	Index int
	// Serial names it. Rig.Seed and Serial together give the unit's draws.
	Serial string
	Rig    Rig
}

// Plan is a population that is to be simulated.
type Plan struct {
	Classes []Class
	Seed    uint64
	// PerRig is how many units meet one draw of the rig; 0 is DefaultPerRig.
	PerRig int
}

// DefaultPerRig is how many units meet one draw of the rig: few enough that
// ten thousand units meet a hundred rigs.
const DefaultPerRig = 100

// Share spreads a number of units over classes by their weights: each gets its
// share rounded down, and what is left goes to the largest remainders, earlier
// classes first. It returns no classes for weights that add up to nothing.
func Share(units int, classes []Class, weight func(Class) float64) []Class {
	sum := 0.0
	for _, c := range classes {
		sum += weight(c)
	}
	if !(sum > 0) || units < 0 {
		return nil
	}
	out := slices.Clone(classes)
	rest := make([]float64, len(out))
	order := make([]int, len(out))
	left := units
	for i := range out {
		exact := float64(units) * weight(out[i]) / sum
		out[i].Units = int(exact)
		rest[i], order[i] = exact-float64(out[i].Units), i
		left -= out[i].Units
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rest[b], rest[a]) })
	for i := range left {
		out[order[i%len(order)]].Units++
	}
	return out
}

// Units returns how many units the plan has.
func (p Plan) Units() int {
	n := 0
	for _, c := range p.Classes {
		n += c.Units
	}
	return n
}

// Rigs returns how many draws of the rig the plan has.
func (p Plan) Rigs() int { return (p.Units() + p.perRig() - 1) / p.perRig() }

func (p Plan) perRig() int {
	if p.PerRig <= 0 {
		return DefaultPerRig
	}
	return p.PerRig
}

// validate returns an error that wraps ErrPlan.
func (p Plan) validate() error {
	seen := map[string]bool{}
	for _, c := range p.Classes {
		switch {
		case c.Name == "":
			return fmt.Errorf("a class has no name: %w", ErrPlan)
		case seen[c.Name]:
			return fmt.Errorf("class %s stands in the plan twice: %w", c.Name, ErrPlan)
		case c.Units < 0:
			return fmt.Errorf("class %s has %d units: %w", c.Name, c.Units, ErrPlan)
		}
		seen[c.Name] = true
	}
	return nil
}

// batches lays the units out. The j-th of n units of a class stands at
// (j+½)/n of the way, so every stretch holds each class in its share.
func (p Plan) batches() iter.Seq[[]Unit] {
	type place struct {
		at    float64
		class int32
	}
	places := make([]place, 0, p.Units())
	for i, c := range p.Classes {
		for j := range c.Units {
			places = append(places, place{(float64(j) + 0.5) / float64(c.Units), int32(i)})
		}
	}
	slices.SortStableFunc(places, func(a, b place) int { return cmp.Compare(a.at, b.at) })
	return func(yield func([]Unit) bool) {
		taken := make([]int, len(p.Classes))
		for from := 0; from < len(places); from += p.perRig() {
			rig := p.rig(from / p.perRig())
			batch := make([]Unit, 0, p.perRig())
			for i := from; i < min(from+p.perRig(), len(places)); i++ {
				class := places[i].class
				taken[class]++
				c := &p.Classes[class]
				batch = append(batch, Unit{
					Class: c.Name, Faults: c.Faults, Index: i, Rig: rig,
					Serial: fmt.Sprintf("%s-%05d", c.Name, taken[class]),
				})
			}
			if !yield(batch) {
				return
			}
		}
	}
}

// rig names the draw of a rig: the seed of the plan and its number are hashed,
// so that two plans share no rig.
func (p Plan) rig(number int) Rig {
	h := fnv.New64a()
	var word [8]byte
	binary.LittleEndian.PutUint64(word[:], p.Seed)
	h.Write(word[:])
	h.Write([]byte("rig " + strconv.Itoa(number)))
	return Rig{Number: number, Seed: h.Sum64()}
}
