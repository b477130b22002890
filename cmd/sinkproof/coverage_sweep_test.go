//go:build !race

package main

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

// TestSweepCoverage: the shipped scenario lets nothing escape and rejects no
// good unit, every limit has room, and the uncertainties are honest: over
// drawn rigs, readings are off by their own standard uncertainty.
func TestSweepCoverage(t *testing.T) {
	p := shippedPapers(t)
	plan, absent := (&coverageFlags{units: 1000, seed: 11}).plan(p)
	plan.PerRig = 20
	s := coverage.New(coverage.Config{Scenario: p.scenario, Plan: plan, Absent: absent, Titles: faultTitles(), Characteristics: characteristics()})
	_, err := population.Run(t.Context(), plan, population.Options{}, lines(p), s.Digest, s.Take)
	require.NoError(t, err)
	r := s.Result()
	require.Zero(t, r.FalseRejects.Count)
	require.Zero(t, r.Escapes.Count)
	require.Zero(t, r.NoVerdict.Count)
	require.Empty(t, r.Missed)
	require.Less(t, r.Escapes.High, 0.005)
	for _, c := range r.Checks {
		if l, ok := limitRow(c); ok {
			require.LessOrEqual(t, l.In, -0.02, "%s rejects good units when its limits move inwards by 2 %%", c.Name)
			require.GreaterOrEqual(t, l.Out, 0.02, "%s lets a fault escape when its limits move outwards by 2 %%", c.Name)
		}
	}
	for _, m := range r.Characteristics {
		most := 1.4
		if m.Title == "Charge current" {
			// A current that is steady within 2 % is read although its average
			// may hold the last of its rise; the budget does not know of it.
			most = 2.2
		}
		require.Greater(t, m.Ratio, 0.6, m.Title)
		require.Less(t, m.Ratio, most, m.Title)
		require.Zero(t, m.Consumer.Count, m.Title)
		require.Zero(t, m.Producer.Count, m.Title)
	}
	require.Len(t, r.Characteristics, 6)
	for _, name := range []string{"vbus-not-shorted", "vbus-capacitance", "path-resistance", "indicator", "end-of-charge", "back-feed"} {
		require.NotContains(t, r.Redundant, name)
	}
	require.Contains(t, r.Redundant, "keeps-awake")
}

// TestSweepCoverageWorkers: one, two and seven workers give the same bytes.
func TestSweepCoverageWorkers(t *testing.T) {
	p := shippedPapers(t)
	plan, _ := (&coverageFlags{units: 105, seed: 3}).plan(p)
	plan.PerRig = 10
	text := func(workers int) string {
		s := coverage.New(coverage.Config{Scenario: p.scenario, Plan: plan, Characteristics: characteristics()})
		_, err := population.Run(t.Context(), plan, population.Options{Workers: workers}, lines(p), s.Digest, s.Take)
		require.NoError(t, err)
		out, err := json.Marshal(s.Result())
		require.NoError(t, err)
		return string(out)
	}
	one := text(1)
	require.Equal(t, one, text(2))
	require.Equal(t, one, text(7))
}

// TestSweepJudgedAgain: judging the kept readings again with the scenario's
// own factor gives the verdicts that the runs gave.
func TestSweepJudgedAgain(t *testing.T) {
	p := shippedPapers(t)
	plan, _ := (&coverageFlags{units: 210, seed: 5}).plan(p)
	s := coverage.New(coverage.Config{Scenario: p.scenario, Plan: plan})
	var failed, passed int
	type kept struct {
		digest  coverage.Digest
		verdict record.Verdict
	}
	_, err := population.Run(t.Context(), plan, population.Options{}, lines(p),
		func(u population.Unit, o population.Outcome) kept { return kept{s.Digest(u, o), o.Run.Verdict} },
		func(u population.Unit, k kept) {
			s.Take(u, k.digest)
			switch {
			case u.Class == population.Good && k.verdict == record.Fail:
				failed++
			case u.Class != population.Good && k.verdict == record.Pass:
				passed++
			}
		})
	require.NoError(t, err)
	for _, g := range s.Result().Guard {
		if g.Factor == p.scenario.Decision.Guard {
			require.Equal(t, failed, g.FalseRejects.Count)
			require.Equal(t, passed, g.Escapes.Count)
			return
		}
	}
	t.Fatal("the scenario's own factor is not on the curve")
}
