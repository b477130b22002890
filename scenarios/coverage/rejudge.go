package coverage

import (
	"math"

	"sinkproof/reports/record"
)

// held is a judged value with its tolerance limits, in SI units; an open side
// is infinite.
type held struct {
	value, u    float64
	bound, unit string
	low, high   float64
	// as is the answer that stands whatever the limits are: of a check without
	// a value, and of one that failed for another reason than its limits.
	as record.Answer
}

// holdOf takes a check of a record for judging again.
func holdOf(c record.Check, d record.Decision) held {
	h := held{low: math.Inf(-1), high: math.Inf(1), as: c.Answer}
	if c.Value == nil {
		return h
	}
	h.value, h.u, h.bound, h.unit = c.Value.Value, c.Value.U, c.Value.Bound, c.Value.Unit
	if c.Lower != nil {
		h.low = c.Lower.Value
	}
	if c.Upper != nil {
		h.high = c.Upper.Value
	}
	if again := h.judge(d.Guard, 0); again == c.Answer {
		h.as = ""
	}
	return h
}

// answer is what the check answers with another guard factor r and with its
// limits moved outwards by a share of their values, inwards where that is
// negative.
func (h *held) answer(r, share float64) record.Answer {
	if h.as != "" {
		return h.as
	}
	return h.judge(r, share)
}

// judge holds the value against the limits as the scenario does: JCGM
// 106:2012, 8.3.2; a bound stands for every value on its side; where the guard
// bands meet nothing can be accepted.
func (h *held) judge(r, share float64) record.Answer {
	low, high := moved(h.low, -share), moved(h.high, share)
	least, most := h.value, h.value
	switch h.bound {
	case record.AtLeast:
		most = math.Inf(1)
	case record.AtMost:
		least = math.Inf(-1)
	}
	from, to := low+r*h.u, high-r*h.u
	if from > to {
		if h.bound == "" && (h.value+h.u < low || h.value-h.u > high) {
			return record.Failed
		}
		return record.Unanswered
	}
	switch {
	case least > to || most < from:
		return record.Failed
	case least >= from && most <= to:
		return record.Passed
	}
	return record.Unanswered
}

// moved shifts a limit by a share of its own size.
func moved(limit, share float64) float64 {
	if math.IsInf(limit, 0) {
		return limit
	}
	return limit + share*math.Abs(limit)
}

// guardFactors are the factors that a population is judged again with: from
// simple acceptance to the largest that a scenario may ask for.
func guardFactors() []float64 {
	var out []float64
	for i := range 31 {
		out = append(out, float64(i)/10)
	}
	return out
}

// moves are the shares by which limits are moved, inwards first; finer where
// people move them.
func moves() []float64 {
	outwards := []float64{0.005, 0.01, 0.015, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.1, 0.12, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5}
	var out []float64
	for i := len(outwards) - 1; i >= 0; i-- {
		out = append(out, -outwards[i])
	}
	return append(append(out, 0), outwards...)
}
