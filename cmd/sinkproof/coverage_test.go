package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

// scenarioWithout is the shipped scenario without one of its checks, in a file.
func scenarioWithout(t testing.TB, check string) string {
	t.Helper()
	file, err := scenarios.Shipped(defaultScenario)
	require.NoError(t, err)
	text := string(file.Bytes)
	head := "    check \"" + check + "\" {\n"
	from := strings.Index(text, head)
	require.Positive(t, from, check)
	to := strings.Index(text[from:], "\n    }\n")
	require.Positive(t, to)
	text = text[:from] + text[from+to+len("\n    }\n"):]
	path := filepath.Join(t.TempDir(), "less.hcl")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// study runs a few units of some classes through a scenario.
func study(t testing.TB, scenario string, units int, faults ...string) coverage.Result {
	t.Helper()
	var errs strings.Builder
	p, err := load(defaultRig, defaultProduct, scenario, &errs)
	require.NoError(t, err, errs.String())
	plan := population.Plan{Seed: 1}
	for _, f := range faults {
		plan.Classes = append(plan.Classes, population.ClassOf(units, f))
	}
	s := coverage.New(coverage.Config{Scenario: p.scenario, Plan: plan, Titles: faultTitles(), Characteristics: characteristics()})
	_, err = population.Run(t.Context(), plan, population.Options{}, lines(p), s.Digest, s.Take)
	require.NoError(t, err)
	return s.Result()
}

// TestACheckRemovedLetsItsFaultEscape: without the only check that sees it,
// the report says that the fault escapes, and which.
func TestACheckRemovedLetsItsFaultEscape(t *testing.T) {
	whole := study(t, defaultScenario, 2, "overcharge", "bulk-missing")
	require.Zero(t, whole.Escapes.Count)
	require.Empty(t, whole.Missed)
	less := study(t, scenarioWithout(t, "end-of-charge"), 2, "overcharge", "bulk-missing")
	require.Equal(t, []string{"overcharge"}, less.Missed)
	require.Equal(t, 2, less.Escapes.Count)
	require.NotContains(t, less.Redundant, "vbus-capacitance")
	var out strings.Builder
	printCoverage(&out, less)
	require.Contains(t, out.String(), "caught by no check: overcharge")
	require.Regexp(t, `(?m)^overcharge +2  2 escaped \(16 % to 100 %\)`, strings.ReplaceAll(out.String(), "\u00a0", " "))
}

// TestInterruptedCoverage: Ctrl-C keeps what was done, says how much, and
// still gives the object that was asked for.
func TestInterruptedCoverage(t *testing.T) {
	p := shippedPapers(t)
	f := coverageFlags{units: 10000, seed: 1, faultShare: 0.01}
	plan, absent := f.plan(p)
	require.Empty(t, absent, "the lamp can have every fault")
	s := coverage.New(coverage.Config{Scenario: p.scenario, Plan: plan})
	ctx, stop := context.WithCancel(t.Context())
	n, err := population.Run(ctx, plan, population.Options{Workers: 1, Progress: func(done int) {
		if done == 5 {
			stop()
		}
	}}, lines(p), s.Digest, s.Take)
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, 5, n)

	c := newCoverage()
	var out bytes.Buffer
	c.SetOut(&out)
	f.json = true
	err = f.tell(c, p, s.Result(), true)
	require.ErrorContains(t, err, "interrupted after 5 of 10000 units")
	require.Equal(t, exitNoJudge, report(&strings.Builder{}, err))
	var r coverage.Result
	require.NoError(t, json.Unmarshal(out.Bytes(), &r))
	require.Equal(t, 5, r.Units)
	require.Equal(t, 10000, r.Planned)
	require.Contains(t, coverageView(p, r).Caution, "5 of 10000")
}

// TestCoveragePlan: a quarter is good, every fault of the product has its
// share, and pairs are those that can stand in one unit.
func TestCoveragePlan(t *testing.T) {
	p := shippedPapers(t)
	plan, _ := (&coverageFlags{units: 10000}).plan(p)
	require.Equal(t, 10000, plan.Units())
	require.Equal(t, 2500, plan.Classes[0].Units)
	require.Len(t, plan.Classes, 1+len(twin.Faults()))
	for _, c := range plan.Classes[1:] {
		require.Equal(t, 375, c.Units, c.Name)
	}
	pairs, _ := (&coverageFlags{units: 20000, pairs: true}).plan(p)
	for _, c := range pairs.Classes {
		var faults []twin.Fault
		for _, name := range c.Faults {
			faults = append(faults, twin.Fault{Name: name})
		}
		require.NoError(t, twin.Combine(faults...), c.Name)
	}
	require.Greater(t, len(pairs.Classes), 120)

	var errs strings.Builder
	tag, err := load(defaultRig, "key-tag", "no-cell", &errs)
	require.NoError(t, err, errs.String())
	_, absent := (&coverageFlags{units: 100}).plan(tag)
	var names []string
	for _, a := range absent {
		names = append(names, a.Fault)
		require.NotEmpty(t, a.Part)
	}
	require.Equal(t, []string{"data-pin-open", "back-feed", "overcharge", "indicator-dead"}, names)
}

func TestProgressBar(t *testing.T) {
	require.Equal(t, strings.Repeat("░", 30)+" 0 of 10000", barText(0, 10000, 0))
	require.Equal(t, strings.Repeat("█", 15)+strings.Repeat("░", 15)+" 50 of 100, 20s left", barText(50, 100, 20*time.Second))
	require.Equal(t, strings.Repeat("█", 30)+" 7 of 7, 0s left", barText(7, 7, time.Minute))
}

func TestLimitRow(t *testing.T) {
	c := coverage.Check{Name: "rd", Limits: []coverage.LimitPoint{
		{Move: -0.5, FalseRejects: 9}, {Move: -0.1, FalseRejects: 2}, {Move: -0.05, FalseRejects: 1}, {Move: 0, FalseRejects: 1, Escapes: 2}, {Move: 0.2, Escapes: 2}, {Move: 0.5, Escapes: 3},
	}}
	l, ok := limitRow(c)
	require.True(t, ok)
	require.Equal(t, -0.1, l.In)
	require.Equal(t, 0.5, l.Out)
	require.Equal(t, "rejects at −10\u00a0%", l.InText)
	require.Equal(t, "escapes at +50\u00a0%", l.OutText)
	_, ok = limitRow(coverage.Check{Limits: []coverage.LimitPoint{{Move: 0}, {Move: 0.1}}})
	require.False(t, ok, "nothing comes near these limits")
	_, ok = limitRow(coverage.Check{})
	require.False(t, ok)
}

func TestPercent(t *testing.T) {
	for want, share := range map[string]float64{"0 %": 0, "< 0.0001 %": 1e-9, "0.038 %": 0.000381, "12 %": 0.1234, "99 %": 0.991, "100 %": 0.999} {
		require.Equal(t, want, strings.ReplaceAll(percent(share), "\u00a0", " "))
	}
}

func TestCaughtBy(t *testing.T) {
	for want, by := range map[string][]int{
		"no check": {4}, "1 check": {0, 3}, "2 checks": {0, 0, 3}, "0 to 3 checks": {1, 0, 4, 2},
	} {
		require.Equal(t, want, caughtBy(by))
	}
}

// TestCoverageViewSaysWhatIsWrong: a study with an escape, a false reject, a
// unit without a verdict and a fault that nothing caught says each of them in
// words, and where to look.
func TestCoverageViewSaysWhatIsWrong(t *testing.T) {
	p := shippedPapers(t)
	rate := func(count, of int) coverage.Rate {
		return coverage.Rate{Count: count, Of: of, Share: float64(count) / float64(of), Low: 0.01, High: 0.2}
	}
	r := coverage.Result{
		Planned: 40, Units: 40, Rigs: 2, FalseRejects: rate(1, 20), Escapes: rate(11, 20), NoVerdict: rate(1, 40),
		Decision: p.scenario.Decision, Missed: []string{"overcharge"}, Redundant: []string{"c-cc", "rd-cc1"}, Dispensable: []string{"c-cc"},
		Classes: []coverage.Class{
			{Name: "good", Title: "good unit", Units: 20, Wrong: rate(1, 20), By: []int{19, 1},
				Caught: []coverage.Catch{{Check: "rd-cc1", Units: 1, Alone: 1}}, Examples: []coverage.Example{{Serial: "good-00007", Seed: 5, Verdict: record.Fail, Why: "failed: Termination"}}},
			{Name: "overcharge", Title: "end of charge too high", Units: 10, Wrong: rate(10, 10), By: []int{10},
				Examples: []coverage.Example{{Serial: "overcharge-00001", Seed: 5, Verdict: record.Pass}}},
			{Name: "rd-10k+no-rd", Title: "two", Faults: []string{"rd-10k", "back-feed"}, Units: 10, Wrong: rate(1, 10), None: rate(1, 10), By: []int{2, 8},
				Caught: []coverage.Catch{{Check: "rd-cc1", Units: 4}, {Check: "c-cc", Units: 8, Alone: 4}}},
		},
		Checks: []coverage.Check{
			{Name: "rd-cc1", Title: "Termination", Kind: coverage.KindCheck, Caught: 4, Good: 1, Rounds: 1},
			{Name: "c-cc", Title: "CC pin", Kind: coverage.KindCheck, Caught: 8, Alone: 4, Rounds: 6, Only: []coverage.Catch{{Check: "rd-10k+back-feed", Alone: 4}}},
			{Name: "c-cold", Title: "Cold", Kind: coverage.KindControl, Caught: 1, Rounds: 6},
		},
		NotObservable: []record.NotObservable{{Check: "clamp[10 kΩ]", Why: "no controller"}, {Check: "clamp[36 kΩ]", Why: "no controller"}},
		Absent:        []coverage.Absent{{Fault: "indicator-dead", Part: "indicator"}},
		Guard:         []coverage.GuardPoint{{Factor: 0}, {Factor: 1}},
	}
	v := coverageView(p, r)
	require.Contains(t, v.Lead, "Of 20 good units 1 was rejected, of 20 with a fault 11 passed.")
	require.Contains(t, v.Lead, "Without a verdict: 1.")
	require.Empty(t, v.Caution)
	require.Equal(t, page.Bad, v.Tally[0].Tone)
	require.Equal(t, page.Open, v.Tally[2].Tone)

	said := map[string]string{}
	for _, f := range v.Findings {
		said[f.Label] = f.Text
	}
	require.Contains(t, said["Caught by no check"], "end of charge too high (what would show it: cell-substitute")
	require.Equal(t, "good-00007 on the rig with seed 5: FAIL, failed: Termination", said["To look at: good unit"])
	require.NotContains(t, said, "To look at: end of charge too high", "any unit is an example of what is never caught")
	require.Equal(t, "c-cc, rd-cc1", said["Redundant"])

	require.Equal(t, []page.Row{{Label: "no controller", Text: "clamp"}, {Label: "no indicator", Text: "the fault indicator-dead"}}, v.Hidden)
	require.Equal(t, "no check", v.Rates[1].CaughtBy)
	require.Equal(t, "rd-10k + back-feed", v.Rates[2].Label)
	require.Contains(t, v.Rates[2].Text, "; none 1")
	require.Equal(t, []string{"rd-cc1", "c-cc", "c-cold"}, v.Heat.Columns)
	require.Equal(t, []page.CoverageCell{{Share: 0.4}, {Share: 0.8, Alone: true}, {}}, v.Heat.Rows[2].Cells)
	require.Equal(t, "redundant, while the others stay", v.Checks[0].Standing)
	require.Equal(t, "without it would escape: rd-10k+back-feed (4)", v.Checks[1].Only)
	require.Equal(t, "control of the bench", v.Checks[2].Standing)
	for _, make := range []func() ([]byte, error){v.HTML, v.PDF} {
		_, err := make()
		require.NoError(t, err)
	}
}

// Of a fault that nobody came to, nothing is said: neither that it is caught nor
// that none escapes.
func TestCoverageViewOfAnInterruptedStudy(t *testing.T) {
	p := shippedPapers(t)
	r := coverage.Result{
		Planned: 30, Units: 5, Rigs: 1, Decision: p.scenario.Decision, Untried: []string{"overcharge"},
		Classes: []coverage.Class{
			{Name: "good", Title: "good unit", Units: 2, Wrong: coverage.Rate{Of: 2, High: 0.84}, By: []int{2}},
			{Name: "no-rd", Title: "no termination", Units: 3, Wrong: coverage.Rate{Of: 3, High: 0.708}, By: []int{0, 3}},
			{Name: "overcharge", Title: "end of charge too high", Wrong: coverage.Rate{High: 1}},
		},
		Guard: []coverage.GuardPoint{{}},
	}
	v := coverageView(p, r)
	said := map[string]string{}
	for _, f := range v.Findings {
		said[f.Label] = f.Text
	}
	require.Equal(t, "none, of 1 fault simulated", said["Caught by no check"])
	require.Equal(t, "overcharge", said["Not tried"])
	require.Contains(t, v.Tally[3].Label, "of 1 simulated")
	require.Equal(t, "no unit yet", v.Rates[2].Text)
	require.Contains(t, strings.Join(v.Method, " "), "None of 3 does not mean none: it means less than 71\u00a0%.")
	var out strings.Builder
	printCoverage(&out, r)
	require.Contains(t, out.String(), "not tried: overcharge")
	require.Regexp(t, `overcharge +0 +no unit yet`, out.String())
}
