package coverage_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

// asked is a check of the sketched scenario with its limits, in volts.
type asked struct {
	name      string
	low, high float64
}

// questions are those of the sketch: three checks, the second with two rounds.
func questions() []asked {
	return []asked{
		{"supply", 4, 6}, {"drop[normal]", math.Inf(-1), 0.5}, {"drop[flipped]", math.Inf(-1), 0.5}, {"end", -1, 1},
	}
}

const guard = 1

// sketch is a scenario in outline: what a study wants to know of one.
func sketch(without ...string) *scenarios.Scenario {
	s := &scenarios.Scenario{
		Name: "sketch", Title: "Sketch", Version: "1", Decision: record.Decision{Rule: record.Guarded, Guard: guard},
		NotObservable: []record.NotObservable{{Check: "light", Title: "Light", Why: "it has none"}},
		Interlocks:    []scenarios.Check{{Name: "over-current", Title: "Over-current"}},
	}
	stage := scenarios.Stage{Name: "all"}
	for _, q := range questions() {
		left := false
		for _, w := range without {
			left = left || q.name == w
		}
		if !left {
			stage.Steps = append(stage.Steps, scenarios.Check{Name: q.name, Title: "Is " + q.name + " right?"})
		}
	}
	stage.Steps = append(stage.Steps, scenarios.Check{Name: "cold", Title: "Cold", Control: scenarios.Negative})
	s.Stages = []scenarios.Stage{stage}
	return s
}

// judged is the record of a unit whose questions have these values, written
// down by a second hand: nothing of the study's own judgement is used.
func judged(sc *scenarios.Scenario, values map[string]float64, u, r float64) record.Run {
	run := record.Run{Opening: record.Opening{Decision: record.Decision{Rule: record.Guarded, Guard: r}}, Verdict: record.Pass}
	for _, q := range questions() {
		if !asks(sc, q.name) {
			continue
		}
		x := values[q.name]
		c := record.Check{Name: q.name, Title: q.name, Answer: record.Passed, Value: &record.Value{Value: x, Unit: "V", U: u}}
		if !math.IsInf(q.low, 0) {
			c.Lower = &record.Limit{Value: q.low, Unit: "V", Source: "here", Acceptance: q.low + r*u}
			if x < q.low+r*u {
				c.Answer = record.Failed
			}
		}
		if !math.IsInf(q.high, 0) {
			c.Upper = &record.Limit{Value: q.high, Unit: "V", Source: "here", Acceptance: q.high - r*u}
			if x > q.high-r*u {
				c.Answer = record.Failed
			}
		}
		if c.Answer == record.Failed {
			run.Verdict, c.Why, run.Reason = record.Fail, "out of limits", "failed: "+q.name
		}
		run.Checks = append(run.Checks, c)
	}
	return run
}

func asks(sc *scenarios.Scenario, name string) bool {
	for _, c := range sc.Checks() {
		if c.Name == name {
			return true
		}
	}
	return false
}

// The classes of the sketch, and what their units are.
const (
	sagging = "sagging" // the supply is low, and the drop too high with it
	leaking = "leaking" // only the end shows it
	slight  = "slight"  // half of them are within every limit
	odd     = "odd"     // the bench cannot tell
)

func classes(units ...int) []population.Class {
	var out []population.Class
	for i, name := range []string{"", sagging, leaking, slight, odd} {
		if i >= len(units) {
			break
		}
		if name == "" {
			out = append(out, population.ClassOf(units[i]))
			continue
		}
		out = append(out, population.ClassOf(units[i], name))
	}
	return out
}

// rig is a simulator whose readings are off by what it was drawn with.
type rig struct {
	sc   *scenarios.Scenario
	off  float64
	seed uint64
	n    uint64
}

// reading is the standard uncertainty of the sketched bench.
const reading = 0.01

func rigs(sc *scenarios.Scenario) population.Factory {
	return func(_ context.Context, r population.Rig) (population.Simulator, error) {
		return &rig{sc: sc, seed: r.Seed, off: reading * rand.New(rand.NewPCG(r.Seed, 1)).NormFloat64()}, nil
	}
}

func (r *rig) Run(ctx context.Context, u population.Unit) (population.Outcome, error) {
	if err := ctx.Err(); err != nil {
		return population.Outcome{}, err
	}
	r.n++
	chance := rand.New(rand.NewPCG(r.seed, r.n+10))
	truth := map[string]float64{
		"supply": 5 + 0.2*chance.NormFloat64(), "drop[normal]": 0.2 + 0.02*chance.NormFloat64(),
		"drop[flipped]": 0.2 + 0.02*chance.NormFloat64(), "end": 0.1 * chance.NormFloat64(),
	}
	switch u.Class {
	case sagging:
		truth["supply"], truth["drop[normal]"] = 3, 0.9
	case leaking:
		truth["end"] = 2
	case slight:
		truth["drop[flipped]"] = 0.3 + 0.4*float64(chance.IntN(2))
	case odd:
		return population.Outcome{Run: record.Run{Verdict: record.None, Reason: "the converter went away"}}, nil
	}
	values := map[string]float64{}
	for name, x := range truth {
		values[name] = x + r.off
	}
	return population.Outcome{Run: judged(r.sc, values, 2*reading, guard), Truth: truth}, nil
}

func (r *rig) Close() error { return nil }

func config(sc *scenarios.Scenario, p population.Plan) coverage.Config {
	return coverage.Config{
		Scenario: sc, Plan: p, Titles: map[string]string{sagging: "the supply sags", leaking: "it leaks"},
		Absent: []coverage.Absent{{Fault: "dark", Title: "dark", Part: "lamp"}},
		Characteristics: []coverage.Characteristic{
			{Title: "Supply", Check: "supply", Truth: "supply", Faults: []string{sagging}},
			{Title: "Nothing", Check: "none such", Truth: "supply"},
		},
	}
}

// studied runs a population through a scenario and returns what was found.
func studied(t testing.TB, sc *scenarios.Scenario, p population.Plan, workers int) coverage.Result {
	t.Helper()
	s := coverage.New(config(sc, p))
	n, err := population.Run(context.Background(), p, population.Options{Workers: workers}, rigs(sc), s.Digest, s.Take)
	require.NoError(t, err)
	require.Equal(t, p.Units(), n)
	return s.Result()
}

func className(r coverage.Result, name string) coverage.Class {
	for _, c := range r.Classes {
		if c.Name == name {
			return c
		}
	}
	return coverage.Class{Name: fmt.Sprintf("no class %s", name)}
}

func checkName(r coverage.Result, name string) coverage.Check {
	for _, c := range r.Checks {
		if c.Name == name {
			return c
		}
	}
	return coverage.Check{Name: fmt.Sprintf("no check %s", name)}
}

// volts is a limit as a scenario holds it.
func volts(v float64) *quantity.Quantity {
	q := quantity.Volts(v)
	return &q
}

// BenchmarkDigest is what a study costs a unit, beside its simulation: a
// record with sixty checks.
func BenchmarkDigest(b *testing.B) {
	const checks = 60
	sc := &scenarios.Scenario{Decision: record.Decision{Rule: record.Guarded, Guard: 1}}
	run := record.Run{Opening: record.Opening{Decision: sc.Decision}, Verdict: record.Pass}
	var st scenarios.Stage
	for i := range checks {
		name := fmt.Sprintf("check-%d[%d]", i/2, i%2)
		st.Steps = append(st.Steps, scenarios.Check{Name: name, Low: volts(1), High: volts(2)})
		run.Checks = append(run.Checks, record.Check{
			Name: name, Answer: record.Passed, Value: &record.Value{Value: 1.5, U: 0.01, Unit: "V"},
			Lower: &record.Limit{Value: 1, Unit: "V"}, Upper: &record.Limit{Value: 2, Unit: "V"},
		})
	}
	sc.Stages = []scenarios.Stage{st}
	s := coverage.New(coverage.Config{Scenario: sc, Plan: population.Plan{Classes: []population.Class{population.ClassOf(1)}}})
	u := population.Unit{Class: population.Good}
	b.ReportAllocs()
	for b.Loop() {
		s.Take(u, s.Digest(u, population.Outcome{Run: run}))
	}
}
