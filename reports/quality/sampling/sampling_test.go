package sampling

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestTablesHaveTheirShape: what the standard says of its tables. Acceptance
// numbers rise along rows and diagonals, sample sizes follow the preferred
// numbers, and no arrow leads astray.
func TestTablesHaveTheirShape(t *testing.T) {
	for s := Normal; s <= Reduced; s++ {
		rows := master(s)
		for letter := range len(rows) {
			if rows[letter][0] == "S" {
				continue // one plan only, reached from R
			}
			before := -1
			for column := range limits() {
				d, err := follow(rows[letter][0], column, s, 10_000_000)
				require.NoError(t, err)
				require.GreaterOrEqual(t, d.Accept, before, "%v, letter %s", s, rows[letter][0])
				before = d.Accept
			}
		}
	}
}

// TestLimitsAreAccepted: at its acceptance quality limit a normal plan takes at
// least 85 % of lots, as the standard promises of percent nonconforming.
func TestLimitsAreAccepted(t *testing.T) {
	for _, size := range []int{8, 100, 1000, 20_000, 600_000} {
		for _, aql := range limits()[:16] {
			n, err := Lookup(size, "II", aql, Normal)
			require.NoError(t, err)
			tight, err := Lookup(size, "II", aql, Tightened)
			require.NoError(t, err)
			if n.All {
				continue
			}
			lot := Lot{Law: Binomial}
			require.Greater(t, n.Accepts(lot, aql/100), 0.85, "lot %d, limit %v", size, aql)
			require.LessOrEqual(t, tight.Accepts(lot, aql/100), n.Accepts(lot, aql/100)+1e-12)
		}
	}
}

func TestLotsWithoutPlan(t *testing.T) {
	for name, f := range map[string]func() error{
		"lot of one": func() error { _, err := CodeLetter(1, "II"); return err },
		"no level":   func() error { _, err := CodeLetter(10, "IV"); return err },
		"no limit":   func() error { _, err := Lookup(100, "II", 1.1, Normal); return err },
		"stopped":    func() error { _, err := Lookup(100, "II", 1, Discontinued); return err },
		"severity":   func() error { _, err := ParseSeverity("hard"); return err },
		"small lot":  func() error { _, err := Lookup(0, "I", 1, Normal); return err },
	} {
		require.ErrorIs(t, f(), ErrPlan, name)
	}
	tighter, ok := OneStepTighter(1)
	require.True(t, ok)
	require.Equal(t, 0.65, tighter)
	_, ok = OneStepTighter(0.01)
	require.False(t, ok)
}

func TestSwitchingToTheEnd(t *testing.T) {
	bad, good := Judged{Accept: 0, Steady: true}, Judged{Accepted: true, Steady: true}
	s := Switching{}
	for range 2 {
		s.Next(bad)
	}
	require.Equal(t, Tightened, s.Severity)
	for range 4 {
		s.Next(good)
		s.Next(bad)
	}
	require.Equal(t, Tightened, s.Severity)
	s.Next(bad)
	require.Equal(t, Discontinued, s.Severity, "five rejected altogether")
	s.Next(good)
	require.Equal(t, Discontinued, s.Severity)
	s.Resume()
	require.Equal(t, Tightened, s.Severity)
	s.Resume()
	require.Equal(t, Tightened, s.Severity)
	for range 5 {
		s.Next(good)
	}
	require.Equal(t, Normal, s.Severity)
	used, _, next := Replay(Tightened, []Judged{bad, bad, bad, bad, bad, good})
	require.Len(t, used, 5, "a discontinued supplier's lots are not inspected")
	require.Equal(t, Discontinued, next)
}

func TestScoreOfLargePlans(t *testing.T) {
	s := Switching{}
	lot := Judged{Accepted: true, Accept: 3, Tighter: true, Steady: true}
	for range 9 {
		s.Next(lot)
	}
	require.Equal(t, 27, s.Score)
	loose := lot
	loose.Tighter = false
	s.Next(loose)
	require.Equal(t, 0, s.Score, "accepted, but not one limit tighter")
	for range 10 {
		s.Next(lot)
	}
	require.Equal(t, Reduced, s.Severity)
	irregular := lot
	irregular.Steady = false
	s.Next(irregular)
	require.Equal(t, Normal, s.Severity)
	for range 20 {
		s.Next(irregular)
	}
	require.Equal(t, Normal, s.Severity, "nobody approved reduced inspection")
	require.Equal(t, 60, s.Score)
}

// TestFindIsSmallest: no plan with a smaller sample meets both risks.
func TestFindIsSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p1 := rapid.Float64Range(0.005, 0.1).Draw(t, "p1")
		r := Risks{p1, rapid.Float64Range(0.02, 0.3).Draw(t, "alpha"), p1 * rapid.Float64Range(2.5, 6).Draw(t, "ratio"), rapid.Float64Range(0.02, 0.3).Draw(t, "beta")}
		lot := Lot{Law: rapid.SampledFrom([]Law{Binomial, Poisson, Hypergeometric}).Draw(t, "law"), Size: 300}
		got, err := Find(lot, r)
		if err != nil {
			require.Equal(t, Hypergeometric, lot.Law)
			return
		}
		require.LessOrEqual(t, got.ProducerRisk, r.ProducerRisk)
		require.LessOrEqual(t, got.ConsumerRisk, r.ConsumerRisk)
		good, bad := whole(300, r.ProducerQuality, math.Floor), whole(300, r.ConsumerQuality, math.Ceil)
		for n := max(1, got.N-3); n <= got.N; n++ {
			for c := 0; c < n; c++ {
				p := Plan{n, c}
				if n == got.N && c >= got.Accept {
					break
				}
				meets := lot.accepts(p, r.ProducerQuality, good) >= 1-r.ProducerRisk && lot.accepts(p, r.ConsumerQuality, bad) <= r.ConsumerRisk
				require.False(t, meets, "plan %v is smaller", p)
			}
		}
	})
}

func TestPlansThatCannotBeFound(t *testing.T) {
	for name, c := range map[string]struct {
		lot Lot
		Risks
	}{
		"turned round": {Lot{}, Risks{0.1, 0.05, 0.05, 0.1}},
		"no risk":      {Lot{}, Risks{0.01, 0, 0.05, 0.1}},
		"percent":      {Lot{}, Risks{1, 0.05, 5, 0.1}},
		"no lot size":  {Lot{Law: Hypergeometric}, Risks{0.01, 0.05, 0.05, 0.1}},
		"too alike":    {Lot{}, Risks{0.4999, 0.0001, 0.5, 0.0001}},
	} {
		_, err := Find(c.lot, c.Risks)
		require.ErrorIs(t, err, ErrPlan, name)
	}
	_, _, err := ZeroAcceptance(Lot{}, 0, 0.9)
	require.ErrorIs(t, err, ErrPlan)
	_, _, err = ZeroAcceptance(Lot{Law: Hypergeometric}, 0.1, 0.9)
	require.ErrorIs(t, err, ErrPlan)
	n, reached, err := ZeroAcceptance(Lot{Hypergeometric, 10}, 0.01, 0.99)
	require.NoError(t, err)
	require.Equal(t, 10, n, "one bad unit in ten is found for certain in ten only")
	require.Equal(t, 1.0, reached)
	require.True(t, math.IsNaN(Plan{5, 5}.QualityAt(0.5)))
	require.True(t, math.IsNaN(Plan{5, 1}.Accepts(Lot{}, 1.5)))
	require.True(t, math.IsNaN(Plan{50, 1}.Accepts(Lot{Hypergeometric, 20}, 0.1)), "more than there are")
	require.Equal(t, -1, LargestAccept(Lot{}, 10, 0.05, 0.1))
}

// TestSequentialBySimulation: risks attained stay within those asked, and the
// mean number of units is near Wald's.
func TestSequentialBySimulation(t *testing.T) {
	s, err := NewSequential(Risks{0.02, 0.05, 0.1, 0.1})
	require.NoError(t, err)
	source := rand.New(rand.NewPCG(2, 2))
	for _, f := range []float64{0.02, 0.045, 0.1} {
		const rounds = 3000
		accepted, tested := 0.0, 0.0
		for range rounds {
			n, bad := 0, 0
			for s.Decide(n, bad) == Continue {
				n++
				if source.Float64() < f {
					bad++
				}
			}
			tested += float64(n) / rounds
			if s.Decide(n, bad) == Accept {
				accepted += 1.0 / rounds
			}
		}
		want, mean := s.At(f)
		require.InDelta(t, want, accepted, 0.06, "fraction %v", f)
		require.InEpsilon(t, mean, tested, 0.25, "fraction %v", f)
	}
	good, _ := s.At(0.02)
	bad, _ := s.At(0.1)
	require.InDelta(t, 0.95, good, 1e-9)
	require.InDelta(t, 0.1, bad, 1e-9)
	at, tested := s.At(s.Slope)
	beside, near := s.At(s.Slope * 1.0001)
	require.InDelta(t, at, beside, 1e-3, "no gap where the drift vanishes")
	require.InEpsilon(t, tested, near, 1e-3)
	none, first := s.At(0)
	require.Equal(t, 1.0, none)
	require.InDelta(t, -s.AcceptIntercept/s.Slope, first, 1e-9, "straight to the accepting line")
	all, _ := s.At(1)
	require.Equal(t, 0.0, all)
	out, _ := s.At(-1)
	require.True(t, math.IsNaN(out))
	_, err = NewSequential(Risks{0.1, 0.05, 0.02, 0.1})
	require.ErrorIs(t, err, ErrPlan)
	_, err = NewSequential(Risks{0.1, 0.6, 0.2, 0.6})
	require.ErrorIs(t, err, ErrPlan)
}

func BenchmarkFind(b *testing.B) {
	for b.Loop() {
		if _, err := Find(Lot{}, Risks{0.01, 0.05, 0.02, 0.1}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFindVariables(b *testing.B) {
	for b.Loop() {
		if _, err := FindVariables(Risks{0.01, 0.05, 0.02, 0.1}, false); err != nil {
			b.Fatal(err)
		}
	}
}
