package chart

import (
	"fmt"
	"slices"
)

// Rule is a pattern of points that a stable process rarely shows. A zone is the
// distance from the centre in standard deviations of the statistic.
type Rule int

// Rules. Zones are strict: a point on a line is not beyond it. A pattern is
// reported at its last point, and in TwoOfThree and FourOfFive that point
// itself lies beyond the zone.
const (
	BeyondLimits        Rule = iota // one beyond 3 sigma
	TwoOfThree                      // two of three beyond 2 sigma on the same side
	FourOfFive                      // four of five beyond 1 sigma on the same side
	EightOnOneSide                  // eight in a row on the same side
	NineOnOneSide                   // nine in a row on the same side
	SixSteady                       // six in a row rising, or falling
	FourteenAlternating             // fourteen in a row up and down by turns
	FifteenWithin                   // fifteen in a row within 1 sigma
	EightBeyond                     // eight in a row beyond 1 sigma, on either side
	ruleCount
)

// WesternElectric returns the four zone rules of Western Electric, Statistical
// Quality Control Handbook (1956).
func WesternElectric() []Rule {
	return []Rule{BeyondLimits, TwoOfThree, FourOfFive, EightOnOneSide}
}

// Nelson returns the eight tests of Nelson, Journal of Quality Technology 16
// (1984) 237, in his order.
func Nelson() []Rule {
	return []Rule{BeyondLimits, NineOnOneSide, SixSteady, FourteenAlternating, TwoOfThree, FourOfFive, FifteenWithin, EightBeyond}
}

func ruleNames() []string {
	return []string{"beyond-limits", "two-of-three", "four-of-five", "eight-on-one-side", "nine-on-one-side",
		"six-steady", "fourteen-alternating", "fifteen-within", "eight-beyond"}
}

// String returns the name of the rule, which ParseRule reads.
func (r Rule) String() string {
	if r < 0 || r >= ruleCount {
		return fmt.Sprintf("rule %d", int(r))
	}
	return ruleNames()[r]
}

// ParseRule returns the rule of that name.
func ParseRule(name string) (Rule, error) {
	if i := slices.Index(ruleNames(), name); i >= 0 {
		return Rule(i), nil
	}
	return 0, fmt.Errorf("no run rule %q; there are %v", name, ruleNames())
}

// Broken returns the places, from 1, at which the rule is broken. z are the
// points in standard deviations from their centres, values as plotted; only
// SixSteady and FourteenAlternating look at the values.
func (r Rule) Broken(z, values []float64) []int {
	switch r {
	case SixSteady:
		return steady(values, 6)
	case FourteenAlternating:
		return alternating(values, 14)
	}
	var out []int
	w := r.watch()
	for i, v := range z {
		if w.see(v) {
			out = append(out, i+1)
		}
	}
	return out
}

// steady returns where n points in a row each exceed, or each fall below, the
// one before.
func steady(values []float64, n int) []int {
	var out []int
	run, before := 1, 0
	for i := 1; i < len(values); i++ {
		way := sign(values[i] - values[i-1])
		switch {
		case way == 0:
			run = 1
		case way == before:
			run++
		default:
			run = 2
		}
		before = way
		if run >= n {
			out = append(out, i+1)
		}
	}
	return out
}

// alternating returns where n points in a row go up and down by turns.
func alternating(values []float64, n int) []int {
	var out []int
	run, before := 1, 0
	for i := 1; i < len(values); i++ {
		way := sign(values[i] - values[i-1])
		switch {
		case way == 0:
			run = 1
		case way == -before:
			run++
		default:
			run = 2
		}
		before = way
		if run >= n {
			out = append(out, i+1)
		}
	}
	return out
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}
