//go:build !race

package main

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/quality/proportion"
	"sinkproof/scenarios/findings"
	"sinkproof/scenarios/population"
)

// reliability counts how often what got a probability came true.
type reliability [6]struct {
	n, came  int
	expected float64
}

// edges are the lower ends of the bins.
func (r *reliability) edges() [6]float64 { return [6]float64{0, 0.05, 0.25, 0.5, 0.75, 0.95} }

func (r *reliability) add(p float64, came bool) {
	at := 0
	for i, low := range r.edges() {
		if p >= low {
			at = i
		}
	}
	r[at].n++
	r[at].expected += p
	if came {
		r[at].came++
	}
}

// calibrated demands that the mean probability of each bin lies within the
// exact interval of what came true, to the width of what is rounded.
func (r *reliability) calibrated(t *testing.T) {
	const rounding = 0.02
	for i, b := range r {
		if b.n == 0 {
			continue
		}
		exact := proportion.ClopperPearson(b.came, b.n, 0.999)
		expected, low := b.expected/float64(b.n), r.edges()[i]
		t.Logf("from %.2f: %6d times, expected %.4f, observed %.4f (99.9 %%: %.4f to %.4f)", low, b.n, expected, float64(b.came)/float64(b.n), exact.Low, exact.High)
		require.True(t, expected > exact.Low-rounding && expected < exact.High+rounding, "from %.2f: %.4f", low, expected)
	}
}

// TestSweepFindings: of units that the dictionary has not seen, on rigs that it
// has not seen, the fault is named first in 95 of 100 and first or second in 99,
// and the probabilities mean what they say. Units with two faults are none of
// the known, in the share that their prior gives them.
func TestSweepFindings(t *testing.T) {
	const perClass = 50
	p := shippedPapers(t)
	d, err := openDictionary(p)
	require.NoError(t, err)
	plan := population.Plan{Seed: 1001, PerRig: 25}
	for _, c := range d.Classes {
		var faults []string
		if c.Name != findings.Good {
			faults = []string{c.Name}
		}
		plan.Classes = append(plan.Classes, population.ClassOf(perClass, faults...))
	}
	single := len(plan.Classes)
	for _, pair := range [][]string{
		{"rd-51k", "indicator-dead"}, {"cc-short", "overcharge"}, {"bulk-missing", "current-half"}, {"no-rd", "back-feed"},
		{"rd-10k", "bulk-too-large"}, {"cc-gnd-short", "indicator-dead"}, {"contact-resistance", "overcharge"},
	} {
		require.NoError(t, twin.Combine(twin.Fault{Name: pair[0]}, twin.Fault{Name: pair[1]}))
		plan.Classes = append(plan.Classes, population.ClassOf(3, pair...))
	}
	type score struct{ n, first, second int }
	scores := map[string]*score{}
	var table reliability
	_, err = population.Run(context.Background(), plan, population.Options{}, lines(p),
		func(_ population.Unit, o population.Outcome) findings.Diagnosis { return d.Diagnose(o.Run, d.Equal()) },
		func(u population.Unit, found findings.Diagnosis) {
			truth := u.Class
			if len(u.Faults) > 1 {
				truth = findings.Unknown
			}
			s := scores[truth]
			if s == nil {
				s = &score{}
				scores[truth] = s
			}
			s.n++
			named := map[string]float64{}
			for rank, x := range found.Suspects {
				named[x.Class.Name] = x.Probability
				if x.Class.Name == truth && rank == 0 {
					s.first++
				}
				if x.Class.Name == truth && rank < 2 {
					s.second++
				}
			}
			for _, c := range d.Classes {
				table.add(named[c.Name], c.Name == truth)
			}
			table.add(named[findings.Unknown], truth == findings.Unknown)
		})
	require.NoError(t, err)
	var all score
	for _, c := range plan.Classes[:single] {
		s := scores[c.Name]
		t.Logf("%-20s %3d units: first %3d, first or second %3d", c.Name, s.n, s.first, s.second)
		all = score{all.n + s.n, all.first + s.first, all.second + s.second}
		require.GreaterOrEqual(t, float64(s.first), 0.85*float64(s.n), c.Name)
	}
	two := scores[findings.Unknown]
	t.Logf("two faults at once   %3d units: none of the known %d, second %d", two.n, two.first, two.second)
	t.Logf("all single           %3d units: first %d, first or second %d", all.n, all.first, all.second)
	require.GreaterOrEqual(t, float64(all.first), 0.95*float64(all.n))
	require.GreaterOrEqual(t, float64(all.second), 0.99*float64(all.n))
	require.GreaterOrEqual(t, float64(two.first), 0.6*float64(two.n))
	table.calibrated(t)
}
