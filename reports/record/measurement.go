package record

import (
	"fmt"
	"strconv"

	"sinkproof/bench/quantity"
)

// units pairs every symbol that a record uses with its dimension. The list
// belongs to the schema and stands apart from how screens print a quantity,
// because what was signed must never change with a print format.
func units() []struct {
	symbol string
	dim    quantity.Dim
} {
	return []struct {
		symbol string
		dim    quantity.Dim
	}{
		{"V", quantity.Voltage}, {"A", quantity.Current}, {"Ω", quantity.Resistance},
		{"F", quantity.Capacitance}, {"s", quantity.Time}, {"Hz", quantity.Frequency},
		{"K", quantity.Temperature}, {"C", quantity.Charge}, {"W", quantity.Power},
		{"J", quantity.Energy}, {"S", quantity.Conductance}, {"V/s", quantity.SlewRate},
		{"1", quantity.Number},
	}
}

// Unit returns the symbol that a record uses for a dimension. It wraps
// ErrInvalid for a dimension that records do not hold.
func Unit(dim quantity.Dim) (string, error) {
	for _, u := range units() {
		if u.dim == dim {
			return u.symbol, nil
		}
	}
	return "", fmt.Errorf("record: unit of dimension %d: no symbol: %w", int64(dim), ErrInvalid)
}

// Dimension returns the dimension of a symbol used in a record. It wraps
// ErrInvalid for a symbol that is none.
func Dimension(unit string) (quantity.Dim, error) {
	for _, u := range units() {
		if u.symbol == unit {
			return u.dim, nil
		}
	}
	return 0, fmt.Errorf("record: unit %q: no such symbol: %w", unit, ErrInvalid)
}

// ValueOf turns a measured value into a record's, with its expanded
// uncertainty. It wraps ErrInvalid when records hold no such dimension.
func ValueOf(m quantity.Measured) (Value, error) {
	unit, err := Unit(m.Dim)
	if err != nil {
		return Value{}, err
	}
	v := Value{Value: m.SI, Unit: unit, U: m.U().SI}
	switch m.Bound {
	case quantity.AtLeast:
		v.Bound = AtLeast
	case quantity.AtMost:
		v.Bound = AtMost
	}
	return v, nil
}

// LimitOf turns a tolerance limit, the acceptance limit in SI and the source
// into a record's limit.
func LimitOf(limit quantity.Quantity, acceptance float64, source string) (Limit, error) {
	unit, err := Unit(limit.Dim)
	if err != nil {
		return Limit{}, err
	}
	return Limit{Value: limit.SI, Unit: unit, Source: source, Acceptance: acceptance}, nil
}

// ContributionsOf turns the parts of a measured value into a record's.
func ContributionsOf(parts []quantity.Contribution) []Contribution {
	if len(parts) == 0 {
		return nil
	}
	list := make([]Contribution, len(parts))
	for i, p := range parts {
		list[i] = Contribution{Source: p.Source, Std: p.Std, Sensitivity: p.Sens, DOF: p.DOF, Distribution: p.Dist}
	}
	return list
}

// Quantity returns the value as a quantity, for printing.
func (v Value) Quantity() (quantity.Quantity, error) {
	dim, err := Dimension(v.Unit)
	return quantity.Quantity{SI: v.Value, Dim: dim}, err
}

// Quantity returns the tolerance limit as a quantity, for printing.
func (l Limit) Quantity() (quantity.Quantity, error) {
	dim, err := Dimension(l.Unit)
	return quantity.Quantity{SI: l.Value, Dim: dim}, err
}

func knownUnit(unit string) bool {
	_, err := Dimension(unit)
	return err == nil
}

// broken names the first rule that a value breaks; empty for none.
func (v Value) broken() string {
	return unmet(
		unless(knownUnit(v.Unit), "unit %q is none that a record uses", v.Unit),
		rule{v.U >= 0, "uncertainty is negative"},
		unless(v.Bound == "" || v.Bound == AtLeast || v.Bound == AtMost, "bound is %q, must be at least, at most, or absent", v.Bound))
}

// broken names the first rule that a limit breaks beside a value in a unit, which is
// empty where there is no value.
func (l Limit) broken(unit string) string {
	return unmet(
		unless(knownUnit(l.Unit), "limit has the unit %q, which no record uses", l.Unit),
		unless(unit == "" || l.Unit == unit, "limit in %q where the value is in %q", l.Unit, unit),
		rule{l.Source != "", "limit has no source"})
}

func (r Run) validateReadings(thing string) error {
	for i := range r.Readings {
		if want := r.Readings[i].broken(); want != "" {
			return demand(thing+": reading "+strconv.Quote(r.Readings[i].Name), rule{want: want})
		}
	}
	return nil
}

func (r *Reading) broken() string {
	if want := r.Value.broken(); want != "" {
		return want
	}
	want := unmet(
		rule{r.Name != "", "name is missing"},
		rule{r.Channel != "", "channel is missing"},
		rule{r.AtUS >= 0, "instant is before the start"})
	for i := 0; i < len(r.Contributions) && want == ""; i++ {
		c := &r.Contributions[i]
		want = unmet(
			rule{c.Source != "" && c.Distribution != "", "a contribution lacks source or distribution"},
			rule{c.Std >= 0 && c.DOF >= 0, "a contribution is negative"})
	}
	return want
}

func (r Run) validateChecks(thing string) error {
	readings, seen := make(map[string]bool, len(r.Readings)), make(map[string]bool, len(r.Checks))
	for i := range r.Readings {
		readings[r.Readings[i].Name] = true
	}
	for i := range r.Checks {
		c := &r.Checks[i]
		want := unmet(rule{!seen[c.Name], "answered twice"})
		if want == "" {
			want = c.broken()
		}
		for j := 0; j < len(c.Readings) && want == ""; j++ {
			want = unmet(unless(readings[c.Readings[j]], "refers to %q, no reading of this run", c.Readings[j]))
		}
		if want != "" {
			return demand(thing+": check "+strconv.Quote(c.Name), rule{want: want})
		}
		seen[c.Name] = true
	}
	return nil
}

func (c *Check) broken() string {
	want := unmet(
		rule{c.Name != "" && c.Title != "", "name or title is missing"},
		unless(c.Answer == Passed || c.Answer == Failed || c.Answer == Unanswered, "answer is %q, must be pass, fail or unanswered", c.Answer),
		unless(c.Answer == Passed || c.Why != "", "gives no cause for %s", c.Answer),
		rule{c.AtUS >= 0, "instant is before the start"})
	unit := ""
	if want == "" && c.Value != nil {
		unit, want = c.Value.Unit, c.Value.broken()
	}
	for _, limit := range []*Limit{c.Lower, c.Upper} {
		if want == "" && limit != nil {
			want = limit.broken(unit)
		}
	}
	return want
}
