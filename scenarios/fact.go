package scenarios

import (
	"slices"

	"sinkproof/fixtures/product"
)

// factOf looks a fact up by its name behind "has.".
func factOf(p *product.Product, name string) (fact, bool) {
	return fact{"has." + name, p.Has(name)}, slices.Contains(product.Features(), name)
}

// because says in words why a fact has the value that it has.
func (f fact) because() string {
	words := map[string][2]string{
		"has.terminations.resistors":  {"its terminations are resistors", "its terminations are no plain resistors"},
		"has.terminations.controller": {"its terminations are in a controller", "its terminations are in no controller"},
		"has.terminations.dual-role":  {"its port is dual-role", "its port is not dual-role"},
		"has.cell.fitted":             {"its cell is fitted", "no cell is fitted"},
		"has.cell.absent":             {"it is tested without a cell", "it is not tested without a cell"},
		"has.cell.substitute":         {"the bench is on the pads of its cell", "the bench is not on the pads of its cell"},
		"has.data":                    {"its data contacts are joined", "its data contacts lead nowhere"},
		"has.charger.asks_data":       {"its charger looks at the data lines", "its charger does not look at the data lines"},
		"has.indicator":               {"it has an indicator", "it has no indicator"},
		"has.indicator.blinking":      {"its indicator blinks", "its indicator does not blink"},
	}
	w, ok := words[f.name]
	switch {
	case !ok && f.holds:
		return f.name + " holds"
	case !ok:
		return f.name + " does not hold"
	case f.holds:
		return w[0]
	}
	return w[1]
}

// settled decides a truth that is made of facts alone.
func settled(t truth) (holds, ok bool) {
	ok = true
	walk(t, func(e Expr) {
		switch e.(type) {
		case fact, logic, not:
		default:
			ok = false
		}
	})
	if !ok {
		return false, false
	}
	answer, err := decide(t, nil)
	return answer == yes, err == nil
}

// reasons says in words why a settled truth has the value that it has.
func reasons(t truth) string {
	switch e := t.(type) {
	case fact:
		return e.because()
	case not:
		return reasons(e.of)
	case logic:
		left, _ := settled(e.left)
		right, _ := settled(e.right)
		whole := left && right
		if e.op == "||" {
			whole = left || right
		}
		// One side may explain the whole; the other then says nothing.
		switch {
		case left == whole && right != whole:
			return reasons(e.left)
		case right == whole && left != whole:
			return reasons(e.right)
		}
		if a, b := reasons(e.left), reasons(e.right); a != b {
			return a + ", and " + b
		}
		return reasons(e.left)
	}
	return t.String()
}
