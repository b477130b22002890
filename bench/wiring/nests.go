package wiring

import (
	"fmt"
	"slices"
	"strings"
)

// ofNest tells whether a line of this use serves one nest: its lid, its branch
// of the coil supply, a chip of its own. The heartbeat feeds, and the emergency
// stop cuts, the supply of all branches.
func (u LineUse) ofNest() bool { return u != Heartbeat && u != EmergencyStop }

// ByNest returns the rig as each nest sees it, in the order of their numbers: the
// lines that all share with its own, its chips where they answer, and the buses
// that these are on. A rig with one nest is its own only view.
func (r *Rig) ByNest() []*Rig {
	if len(r.Nests) < 2 {
		return []*Rig{r}
	}
	views := make([]*Rig, len(r.Nests))
	for i := range r.Nests {
		v := *r
		v.Nest, v.Nests = r.Nests[i], nil
		v.Lines = slices.Concat(r.shared(), v.Nest.Lines)
		v.Chips = v.Nest.Chips
		v.Buses = slices.DeleteFunc(slices.Clone(r.Buses), func(b Bus) bool {
			return !slices.ContainsFunc(v.Chips, func(c Chip) bool { return c.Bus == b.Name })
		})
		views[i] = &v
	}
	return views
}

// shared lists the lines that stand outside of the nests.
func (r *Rig) shared() []Line { return r.Lines[:len(r.Lines)-len(r.Nest.Lines)] }

// AllLines lists the lines of the computer that the rig takes, of all nests.
func (r *Rig) AllLines() []Line {
	if len(r.Nests) < 2 {
		return r.Lines
	}
	out := slices.Clone(r.shared())
	for i := range r.Nests {
		out = append(out, r.Nests[i].Lines...)
	}
	return out
}

// apart finds what several nests share and must not: lines, and the places of
// their chips.
func (r *Rig) apart() []Mistake {
	c := &checker{rig: r}
	for _, l := range r.shared() {
		if l.Use.ofNest() {
			c.add(At("line", l.Name, "use"), "line shared by nests",
				"The line %s stands outside of the nests, so that all %d share it, and a line with the use %q serves one; put one into the block of each nest.",
				l.Name, len(r.Nests), l.Use)
		}
	}
	names, devices := map[string]string{}, map[string]string{}
	for i := range r.Nests {
		n := &r.Nests[i]
		from := len(c.out)
		for _, l := range n.Lines {
			c.own(n, l, names, devices)
		}
		for j := range c.out[from:] {
			c.out[from+j].Nest = n.Number
		}
	}
	c.places()
	return c.out
}

// own checks one line of a nest against those of the nests before it.
func (c *checker) own(n *Nest, l Line, names, devices map[string]string) {
	if first, twice := names[l.Name]; twice && first != n.Name {
		c.add(At("line", l.Name, "again"), "name used twice", "The name %q is taken by a line of %s already; every line of the rig needs its own.", l.Name, first)
	}
	if first, twice := devices[l.Device]; twice && first != n.Name {
		c.add(At("line", l.Name, "device"), "line used twice", "The computer's line %q serves %s already; each has one use.", l.Device, first)
	}
	names[l.Name], devices[l.Device] = n.Name, n.Name
}

// places finds chips of different nests that answer at one place: one chip for
// two nests, or two that clash.
func (c *checker) places() {
	type spot struct {
		bus     string
		address uint16
	}
	type holder struct {
		chip string
		nest *Nest
	}
	taken := map[spot]holder{}
	for i := range c.rig.Nests {
		n := &c.rig.Nests[i]
		with, first, where := &Nest{}, "", []string{}
		for _, x := range n.Chips {
			at := spot{x.Bus, x.Address}
			holds, clash := taken[at]
			switch {
			case x.Bus == "":
			case !clash:
				taken[at] = holder{x.Name, n}
			case holds.nest != n:
				if first == "" {
					with, first = holds.nest, x.Name
				}
				where = append(where, fmt.Sprintf("%s at 0x%02X of %s", holds.chip, x.Address, x.Bus))
			}
		}
		if first == "" {
			continue
		}
		c.add(At("nest", "chip", first, "address"), "chips shared by nests",
			"In %s the chips would answer where %s has its own (%s); every nest has its chips to itself: put %s on another bus, or give these chips other addresses in its block.",
			n.Name, with.Name, strings.Join(where, ", "), n.Name)
		c.out[len(c.out)-1].Nest = n.Number
	}
}
