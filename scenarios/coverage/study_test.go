package coverage_test

import (
	"context"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/record"
	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

func TestWhatBecameOfEachClass(t *testing.T) {
	sc := sketch()
	r := studied(t, sc, population.Plan{Classes: classes(400, 100, 100, 100, 20), PerRig: 50}, 2)
	require.Equal(t, 720, r.Units)
	require.Equal(t, 720, r.Planned)
	require.Equal(t, 15, r.Rigs)

	good := className(r, population.Good)
	require.Equal(t, "good unit", good.Title)
	require.Zero(t, good.Wrong.Count)
	require.Equal(t, 400, good.Wrong.Of)
	require.Equal(t, good.Wrong, r.FalseRejects)

	sags := className(r, sagging)
	require.Equal(t, "the supply sags", sags.Title)
	require.Equal(t, 100, sags.Failed.Count)
	require.Equal(t, []coverage.Catch{{Check: "supply", Units: 100}, {Check: "drop", Units: 100}}, sags.Caught)
	require.Equal(t, []int{0, 0, 100}, sags.By, "two checks catch each")

	leaks := className(r, leaking)
	require.Equal(t, []coverage.Catch{{Check: "end", Units: 100, Alone: 100}}, leaks.Caught)

	half := className(r, slight)
	require.Equal(t, half.Passed.Count, half.Wrong.Count)
	require.InDelta(t, 50, half.Wrong.Count, 10)
	require.Equal(t, half.Wrong.Count, half.By[0])
	require.Len(t, half.Examples, 3)
	require.Equal(t, record.Pass, half.Examples[0].Verdict)

	none := className(r, odd)
	require.Equal(t, 20, none.None.Count)
	require.Zero(t, none.Wrong.Count, "no verdict is no escape")
	require.Equal(t, "the converter went away", none.Examples[0].Why)

	require.Equal(t, half.Wrong.Count, r.Escapes.Count)
	require.Equal(t, 320, r.Escapes.Of)
	require.Equal(t, 20, r.NoVerdict.Count)
	require.Equal(t, []string{odd}, r.Missed)
	require.Equal(t, sc.NotObservable, r.NotObservable)
	require.Equal(t, []coverage.Absent{{Fault: "dark", Title: "dark", Part: "lamp"}}, r.Absent)
}

func TestWhatEachCheckIsGoodFor(t *testing.T) {
	r := studied(t, sketch(), population.Plan{Classes: classes(100, 100, 100, 100)}, 2)
	supply, drop, end := checkName(r, "supply"), checkName(r, "drop"), checkName(r, "end")
	require.Equal(t, 100, supply.Caught)
	require.Zero(t, supply.Alone)
	require.Equal(t, 2, drop.Rounds)
	require.Equal(t, "Is drop[normal] right?", drop.Title)
	require.Equal(t, drop.Caught-100, drop.Alone)
	require.Equal(t, []coverage.Catch{{Check: slight, Units: drop.Alone, Alone: drop.Alone}}, drop.Only)
	require.Equal(t, []coverage.Catch{{Check: leaking, Units: 100, Alone: 100}}, end.Only)
	require.Equal(t, coverage.KindControl, checkName(r, "cold").Kind)
	require.Equal(t, coverage.KindInterlock, checkName(r, "over-current").Kind)
	require.Empty(t, checkName(r, "over-current").Limits)

	require.Equal(t, []string{"supply"}, r.Redundant)
	require.Equal(t, []string{"supply"}, r.Dispensable)
	require.Equal(t, []string{"drop[normal]"}, r.RedundantRounds, "only the flipped round catches what is slight")
	require.Empty(t, r.Missed)
}

// TestRedundantTogether: of two checks that catch the same, each could go, but
// not both.
func TestRedundantTogether(t *testing.T) {
	r := studied(t, sketch(), population.Plan{Classes: classes(10, 50)}, 1)
	require.Equal(t, []string{"supply", "drop", "end"}, r.Redundant)
	require.Len(t, r.Dispensable, 2)
	require.Contains(t, r.Dispensable, "end")
}

// TestACheckTakenAwayLetsItsFaultEscape: what the study says of a check that
// is needed comes true when the check is gone.
func TestACheckTakenAwayLetsItsFaultEscape(t *testing.T) {
	p := population.Plan{Classes: classes(100, 100, 100, 100)}
	whole := studied(t, sketch(), p, 2)
	for _, c := range whole.Checks {
		if c.Kind != coverage.KindCheck {
			continue
		}
		var rounds []string
		for _, q := range questions() {
			if q.name == c.Name || len(q.name) > len(c.Name) && q.name[:len(c.Name)+1] == c.Name+"[" {
				rounds = append(rounds, q.name)
			}
		}
		less := studied(t, sketch(rounds...), p, 2)
		require.Equal(t, whole.Escapes.Count+c.Alone, less.Escapes.Count, "without %s", c.Name)
		for _, only := range c.Only {
			before, after := className(whole, only.Check), className(less, only.Check)
			require.Equal(t, before.Wrong.Count+only.Alone, after.Wrong.Count, "%s without %s", only.Check, c.Name)
		}
		if c.Alone == 100 {
			require.Equal(t, []string{leaking}, less.Missed)
		}
	}
	// All that is dispensable can go at once.
	require.Equal(t, whole.Escapes, studied(t, sketch(whole.Dispensable...), p, 2).Escapes)
}

func TestResultsDoNotDependOnTheWorkers(t *testing.T) {
	p := population.Plan{Classes: classes(300, 60, 60, 60, 10), Seed: 3, PerRig: 20}
	text := func(workers int) string {
		out, err := json.Marshal(studied(t, sketch(), p, workers))
		require.NoError(t, err)
		return string(out)
	}
	one := text(1)
	require.Equal(t, one, text(2))
	require.Equal(t, one, text(7))
	p.Seed++
	require.NotEqual(t, one, text(1))
}

// TestInterrupted: what was done so far stands, with the wider intervals of
// fewer units.
func TestInterrupted(t *testing.T) {
	sc := sketch()
	p := population.Plan{Classes: classes(600, 200, 200), PerRig: 10}
	s := coverage.New(config(sc, p))
	ctx, stop := context.WithCancel(context.Background())
	n, err := population.Run(ctx, p, population.Options{Workers: 1, Progress: func(done int) {
		if done == 100 {
			stop()
		}
	}}, rigs(sc), s.Digest, s.Take)
	require.ErrorIs(t, err, context.Canceled)
	r := s.Result()
	require.Equal(t, n, r.Units)
	require.Equal(t, 1000, r.Planned)
	require.Equal(t, 60, className(r, population.Good).Units)
	require.Equal(t, 20, className(r, leaking).Units, "every class has its share of what was done")
	require.InDelta(t, 1-math.Pow(0.025, 1.0/60), r.FalseRejects.High, 1e-12)
}

// TestNothingWasDone: an empty study knows nothing and says so.
func TestNothingWasDone(t *testing.T) {
	p := population.Plan{Classes: classes(10, 10)}
	r := coverage.New(config(sketch(), p)).Result()
	require.Zero(t, r.Units)
	require.Equal(t, coverage.Rate{High: 1}, r.FalseRejects)
	require.Empty(t, r.Missed, "nobody looked")
	require.Equal(t, []string{sagging}, r.Untried)
	_, err := json.Marshal(r)
	require.NoError(t, err)
}

// TestCurvesAreThoseOfJudgingAnew: for any values, the curves say what a
// second hand finds that judges every unit with the other factor or limit.
func TestCurvesAreThoseOfJudgingAnew(t *testing.T) {
	sc := sketch()
	rapid.Check(t, func(t *rapid.T) {
		p := population.Plan{Classes: classes(6, 6)}
		s := coverage.New(config(sc, p))
		u := rapid.Float64Range(0.001, 0.4).Draw(t, "u")
		all := map[string][]map[string]float64{}
		for _, class := range []string{population.Good, sagging} {
			for range 6 {
				values := map[string]float64{}
				for _, q := range questions() {
					values[q.name] = rapid.Float64Range(-2, 8).Draw(t, q.name)
					if rapid.Bool().Draw(t, "near") {
						values[q.name] = max(q.low, -1) + rapid.Float64Range(0, 0.5).Draw(t, "by")
					}
				}
				all[class] = append(all[class], values)
				unit := population.Unit{Class: class}
				s.Take(unit, s.Digest(unit, population.Outcome{Run: judged(sc, values, u, guard)}))
			}
		}
		r := s.Result()
		fails := func(values map[string]float64, factor float64, moved string, share float64) bool {
			for _, q := range questions() {
				low, high := q.low, q.high
				if q.name == moved || moved != "" && len(q.name) > len(moved) && q.name[:len(moved)] == moved {
					low, high = low-share*math.Abs(low), high+share*math.Abs(high)
					if math.IsInf(q.low, 0) {
						low = q.low
					}
				}
				if x := values[q.name]; x < low+factor*u || x > high-factor*u {
					return true
				}
			}
			return false
		}
		count := func(class string, factor float64, moved string, share float64, failing bool) int {
			n := 0
			for _, v := range all[class] {
				if fails(v, factor, moved, share) == failing {
					n++
				}
			}
			return n
		}
		for _, g := range r.Guard {
			if 2*g.Factor*u > 1.9 {
				continue // the guard bands of some limits meet, and nothing can be told
			}
			require.Equal(t, count(population.Good, g.Factor, "", 0, true), g.FalseRejects.Count, "r = %g", g.Factor)
			require.Equal(t, count(sagging, g.Factor, "", 0, false), g.Escapes.Count, "r = %g", g.Factor)
		}
		for _, name := range []string{"supply", "drop", "end"} {
			for _, l := range checkName(r, name).Limits {
				require.Equal(t, count(population.Good, guard, name, l.Move, true), l.FalseRejects, "%s moved by %g", name, l.Move)
				require.Equal(t, count(sagging, guard, name, l.Move, false), l.Escapes, "%s moved by %g", name, l.Move)
			}
		}
	})
}

// TestRisksOfACharacteristic: true values, readings and limits are counted as
// JCGM 106 defines the risks, and only where the truth is what the check sees.
func TestRisksOfACharacteristic(t *testing.T) {
	sc := sketch()
	p := population.Plan{Classes: classes(4, 2, 2)}
	s := coverage.New(config(sc, p))
	take := func(class string, truth, read float64) {
		u := population.Unit{Class: class}
		if class != population.Good {
			u.Faults = []string{class}
		}
		values := map[string]float64{"supply": read}
		s.Take(u, s.Digest(u, population.Outcome{Run: judged(sc, values, 0.1, guard), Truth: map[string]float64{"supply": truth}}))
	}
	take(population.Good, 5, 5.02)
	take(population.Good, 5.1, 5.06)
	take(population.Good, 5.95, 5.93) // conforms, and is within the guard band: rejected
	take(population.Good, 6.02, 5.89) // does not, and is accepted
	take(sagging, 3, 3.01)
	take(sagging, 3.95, 4.2) // does not conform, accepted
	take(leaking, 2, 5)      // its truth is another matter
	r := s.Result()
	require.Len(t, r.Characteristics, 1, "one of the two has no check here")
	m := r.Characteristics[0]
	require.Equal(t, "V", m.Unit)
	require.Equal(t, [2]float64{4, 6}, [2]float64{*m.Low, *m.High})
	require.Equal(t, 6, m.Units)
	require.Equal(t, 3, m.Conforming)
	require.Equal(t, 4, m.Accepted)
	require.Equal(t, 2, m.Consumer.Count)
	require.Equal(t, 1, m.Producer.Count)
	require.InDelta(t, (5+5.1+5.95+6.02)/4, m.Good.Mean, 1e-12)
	require.InDelta(t, 0.05, m.U, 1e-12)
	require.InDelta(t, (0.02-0.04-0.02-0.13)/4, m.Error.Mean, 1e-12)
	require.InDelta(t, math.Sqrt((0.02*0.02+0.04*0.04+0.02*0.02+0.13*0.13)/4)/0.05, m.Ratio, 1e-9)
	require.NotNil(t, m.Computed)
	require.InDelta(t, m.Computed.Accepted, m.Computed.Conforming-m.Computed.Producer+m.Computed.Consumer, 1e-12)
}

// TestAnHonestBudget: where readings are off by their stated uncertainty, the
// ratio of error and uncertainty is 1, and counted risks are the computed ones.
func TestAnHonestBudget(t *testing.T) {
	r := studied(t, sketch(), population.Plan{Classes: classes(4000), PerRig: 2}, 0)
	m := r.Characteristics[0]
	require.InDelta(t, 1, m.Ratio, 0.05)
	require.InDelta(t, 0.2, m.Good.SD, 0.005)
	require.InDelta(t, m.Computed.Conforming, float64(m.Conforming)/float64(m.Units), 1e-4)
}

// TestAControlOfTheBenchCatchesNothing: a control that fails by the bench catches no unit.
func TestAControlOfTheBenchCatchesNothing(t *testing.T) {
	sc := sketch()
	s := coverage.New(config(sc, population.Plan{Classes: classes(1, 1)}))
	run := judged(sc, map[string]float64{"supply": 5}, 0.01, guard)
	run.Checks = append(run.Checks, record.Check{Name: "cold", Answer: record.Failed, Control: true, Why: "hot"})
	run.Verdict, run.Reason = record.None, "the bench is hot"
	u := population.Unit{Class: sagging}
	s.Take(u, s.Digest(u, population.Outcome{Run: run}))
	run.Verdict = record.Fail
	u.Class = population.Good
	s.Take(u, s.Digest(u, population.Outcome{Run: run}))
	r := s.Result()
	require.Equal(t, 1, r.NoVerdict.Count)
	require.Equal(t, 0, checkName(r, "cold").Caught)
	require.Equal(t, 1, checkName(r, "cold").Good, "one that went away with the unit is the unit's")
	for _, g := range r.Guard {
		require.Equal(t, 1, g.Open.Count, "no factor makes a verdict of a bench fault")
		require.Equal(t, 1, g.FalseRejects.Count, "what failed without a value fails with every factor")
	}
}

// TestProduction: the risks of a production are the rates, scaled.
func TestProduction(t *testing.T) {
	p := population.Plan{Classes: classes(100, 100, 0, 100)}
	c := config(sketch(), p)
	c.FaultShare, c.Confidence = 0.02, 0.9
	s := coverage.New(c)
	_, err := population.Run(context.Background(), p, population.Options{}, rigs(c.Scenario), s.Digest, s.Take)
	require.NoError(t, err)
	r := s.Result()
	require.InDelta(t, 0.02*r.Escapes.Share, r.Production.Consumer.Value, 1e-15)
	require.InDelta(t, 0.02*r.Escapes.High, r.Production.Consumer.High, 1e-15)
	require.InDelta(t, 0.98*r.FalseRejects.High, r.Production.Producer.High, 1e-15)
	require.InDelta(t, 1-math.Pow(0.05, 1.0/100), r.FalseRejects.High, 1e-12, "ninety percent")
}
