package circuit

import (
	"maps"
	"slices"
)

// room is for how many more elements a copy has memory: about what a unit under
// test adds to the bench that it hangs on.
const room = 64

// CopyIn returns a network of its own with the same nodes, elements and base. What
// is added to it has the same IDs that it would have in n. It takes the memory of an
// old network, or nil, that is not added to or started from any more.
func (n *Netlist) CopyIn(old *Netlist) *Netlist {
	var elements []element
	if old != nil {
		elements, old.elements = old.elements[:0], nil
	}
	return &Netlist{
		names:    append(make([]string, 0, len(n.names)+room), n.names...),
		byName:   maps.Clone(n.byName),
		elements: append(slices.Grow(elements, len(n.elements)+room), n.elements...),
		base:     n.base,
	}
}

// Charge sets the initial voltage of a capacitor, as [Netlist.Capacitor] does.
func (n *Netlist) Charge(capacitor ElementID, initialVolts float64) {
	n.elements[capacitor].volts = initialVolts
}
