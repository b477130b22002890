package twin

import (
	"errors"
	"fmt"
	"strings"

	"sinkproof/fixtures/product"
)

// ErrUnknownFault is the cause when a fault has no such name.
var ErrUnknownFault = errors.New("no such fault")

// ErrCombination is the cause when two faults act on the same part.
var ErrCombination = errors.New("both act on the same part")

// ErrNoSuchPart is the cause when a product does not have what is to fail.
var ErrNoSuchPart = errors.New("the product has no such part")

// Fault is a defect of one unit.
type Fault struct {
	// Name is one of the names in Faults.
	Name string

	fixed    bool
	severity float64
	pin      string
}

// Severe returns the fault with a fixed severity, from 0 (barely bad) to 1
// (grossly bad), instead of a drawn one.
func (f Fault) Severe(severity float64) Fault {
	f.fixed, f.severity = true, min(max(severity, 0), 1)
	return f
}

// On returns the fault on a fixed pin ("cc1", "cc2", "dp1" and so on) instead
// of a drawn one.
func (f Fault) On(pin string) Fault {
	f.pin = pin
	return f
}

// ParseFaults reads names that are joined by "+"; "good" and the empty text
// are no fault.
func ParseFaults(text string) ([]Fault, error) {
	if text == "" || text == "good" {
		return nil, nil
	}
	var faults []Fault
	for name := range strings.SplitSeq(text, "+") {
		faults = append(faults, Fault{Name: strings.TrimSpace(name)})
	}
	return faults, Combine(faults...)
}

// Combine checks that the faults exist and can stand in one unit together.
func Combine(faults ...Fault) error {
	for i, f := range faults {
		d, err := describe(f.Name)
		if err != nil {
			return err
		}
		for _, g := range faults[:i] {
			e, err := describe(g.Name)
			if err != nil {
				return err
			}
			if group, same := d.shares(e); same {
				return fmt.Errorf("combine %s and %s (%s): %w", g.Name, f.Name, group, ErrCombination)
			}
		}
	}
	return nil
}

// describe finds a fault by its name.
func describe(name string) (Description, error) {
	for _, d := range Faults() {
		if d.Name == name {
			return d, nil
		}
	}
	return Description{}, fmt.Errorf("fault %q: %w", name, ErrUnknownFault)
}

// Description says what a fault is.
type Description struct {
	Name  string
	Title string
	// Plain says in a sentence or two what happened to the board.
	Plain string
	// Groups are the parts that it acts on. Two faults that share one cannot
	// be combined.
	Groups []string
	// Effect is what a person would notice.
	Effect string
	// Barely and Grossly are the two ends of the severity, in words.
	Barely, Grossly string
	// Revealed says which conditions show it: the last column of the fault by
	// condition matrix, in the words of this bench.
	Revealed string
	// Needs is the part of a product that must exist for it.
	Needs Part
}

// Part is a part of a product that not every product has.
type Part string

// The parts that a fault may need.
const (
	AnyProduct    Part = ""
	DataContacts  Part = "data contacts"
	IndicatorLamp Part = "indicator"
	SomeCell      Part = "cell"
)

// Applies tells whether a product has the part that fails.
func (d Description) Applies(p *product.Product) bool {
	switch d.Needs {
	case DataContacts:
		return p.Port.Data
	case IndicatorLamp:
		return p.Indicator.Fitted
	case SomeCell:
		return p.Cell.State != product.CellAbsent
	}
	return true
}

// shares returns a group that both act on.
func (d Description) shares(e Description) (string, bool) {
	if d.Name == e.Name {
		return "named twice", true
	}
	for _, g := range d.Groups {
		for _, h := range e.Groups {
			if g == h {
				return g, true
			}
		}
	}
	return "", false
}
