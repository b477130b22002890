package chart

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// RunLength returns the mean number of points to the first alarm of the rules
// together, for independent normal points whose mean lies shift standard
// deviations off the centre. At shift 0 its inverse is the rate of false
// alarms. SixSteady and FourteenAlternating do not look at zones and cannot be
// counted together with others: an error says so.
//
// Method: Markov chain of what the rules remember (Champ and Woodall,
// Technometrics 29 (1987) 393), its survival summed until it falls at a
// constant rate. Exact but for rounding.
func RunLength(rules []Rule, shift float64) (float64, error) {
	if len(rules) == 0 || math.IsNaN(shift) {
		return 0, fmt.Errorf("run length of %v at shift %v: %w", rules, shift, quality.ErrSample)
	}
	if slices.Contains(rules, SixSteady) || slices.Contains(rules, FourteenAlternating) {
		if len(rules) == 1 && shift == 0 {
			if rules[0] == SixSteady {
				return neighbours(6, false), nil
			}
			return neighbours(14, true), nil
		}
		return 0, fmt.Errorf("run length of %v at shift %v: %v and %v are known alone and without shift only: %w",
			rules, shift, SixSteady, FourteenAlternating, quality.ErrSample)
	}
	return newChain(rules, shift).runLength(), nil
}

// FalseAlarms returns the rate of false alarms per point of the rule alone, on
// a stable process: one over the mean number of points to the first.
func (r Rule) FalseAlarms() float64 {
	n, err := RunLength([]Rule{r}, 0)
	if err != nil {
		return math.NaN()
	}
	return 1 / n
}

// zones are the places where rules cut the line, and a point inside each.
func zones() (cuts, inside []float64) {
	return []float64{-3, -2, -1, 0, 1, 2, 3}, []float64{-4, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 4}
}

type memory [ruleCount]watch

// chain is a Markov chain over what rules remember; to[s] is where each zone
// leads from state s, -1 for the alarm.
type chain struct {
	to [][]int
	p  []float64 // probability of each zone
}

func newChain(rules []Rule, shift float64) chain {
	cuts, inside := zones()
	c := chain{}
	below := 0.0
	for _, cut := range cuts {
		at := law.Phi(cut - shift)
		c.p = append(c.p, at-below)
		below = at
	}
	c.p = append(c.p, law.Phi(shift-cuts[len(cuts)-1]))

	var start memory
	for i, r := range rules {
		start[i] = r.watch()
	}
	known := map[memory]int{start: 0}
	for queue := []memory{start}; len(queue) > 0; queue = queue[1:] {
		row := make([]int, len(inside))
		for z, place := range inside {
			next, alarm := queue[0], false
			for i := range rules {
				alarm = next[i].see(place) || alarm
			}
			if alarm {
				row[z] = -1
				continue
			}
			at, ok := known[next]
			if !ok {
				at = len(known)
				known[next] = at
				queue = append(queue, next)
			}
			row[z] = at
		}
		c.to = append(c.to, row)
	}
	return c
}

// longest is more points than any zone rule looks back.
const longest = 20

// runLength sums the probabilities of no alarm yet. Once these fall by the same
// factor from point to point, the rest is a geometric series.
func (c chain) runLength() float64 {
	now, next := make([]float64, len(c.to)), make([]float64, len(c.to))
	now[0] = 1
	sum, alive, factor, steady := 0.0, 1.0, 0.0, 0
	for range 100_000 {
		sum += alive
		clear(next)
		for s, mass := range now {
			for z, at := range c.to[s] {
				if at >= 0 {
					next[at] += mass * c.p[z]
				}
			}
		}
		left := 0.0
		for _, mass := range next {
			left += mass
		}
		was := factor
		factor = left / alive
		now, next, alive = next, now, left
		if math.Abs(factor-was) < 1e-14*(1-factor)+4e-16 {
			steady++ // also while a pattern is still too short to alarm
		} else {
			steady = 0
		}
		if left < 1e-18 || steady > longest {
			return sum + alive/(1-factor)
		}
	}
	return sum + alive/(1-factor)
}
