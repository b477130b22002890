package compare

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/published"
	"sinkproof/reports/quality/law"
)

func interval(t *testing.T, want [2]float64, got quality.Interval, rel float64, what string) {
	t.Helper()
	published.Relative(t, want[0], got.Low, rel, what+" low")
	published.Relative(t, want[1], got.High, rel, what+" high")
}

type meansCase struct {
	T, DF, P float64
	CI       [2]float64 `json:"ci95"`
}

func (m meansCase) check(t *testing.T, got Means, rel, p float64, what string) {
	t.Helper()
	published.Relative(t, m.T, got.T, rel, what+" t")
	published.Relative(t, m.DF, got.DF, rel, what+" df")
	published.Relative(t, m.P, got.P, p, what+" p")
	interval(t, m.CI, got.Interval, rel, what)
}

type equivalenceCase struct {
	Lower      float64 `json:"p_lower"`
	Upper      float64 `json:"p_upper"`
	P          float64
	CI         [2]float64 `json:"ci90"`
	Equivalent bool       `json:"equivalent_at_0.05"`
}

func (e equivalenceCase) check(t *testing.T, got Equivalence, rel, p float64) {
	t.Helper()
	published.Relative(t, e.Lower, got.PLower, p, "p lower")
	published.Relative(t, e.Upper, got.PUpper, p, "p upper")
	published.Relative(t, e.P, got.P, p, "p")
	interval(t, e.CI, got.Interval, rel, "90 % interval")
}

func TestPublishedMeans(t *testing.T) {
	published.Each(t, "07", "t_tests_", func(t *testing.T, c published.Case) {
		var in struct {
			X, Y   []float64
			Margin float64 `json:"equivalence_margin"`
		}
		var want struct {
			MeanX  float64 `json:"mean_x"`
			MeanY  float64 `json:"mean_y"`
			Welch  meansCase
			Pooled meansCase
			F      float64         `json:"variance_ratio_F"`
			FP     float64         `json:"variance_ratio_p"`
			TOST   equivalenceCase `json:"tost_welch"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, p := c.Named(t, "relative"), c.Named(t, "p_value_relative")
		x, err := Of(in.X)
		require.NoError(t, err)
		y, err := Of(in.Y)
		require.NoError(t, err)
		published.Relative(t, want.MeanX, x.Mean, rel, "mean x")
		published.Relative(t, want.MeanY, y.Mean, rel, "mean y")
		welch := Welch(x, y, 0.95)
		want.Welch.check(t, welch, rel, p, "Welch")
		want.Pooled.check(t, Pooled(x, y, 0.95), rel, p, "pooled")
		ratio := VarianceRatio(x, y, 0.95)
		published.Relative(t, want.F, ratio.F, rel, "F")
		published.Relative(t, want.FP, ratio.P, p, "p of F")
		require.True(t, ratio.Contains(ratio.F))
		e := welch.Equivalent(in.Margin, 0.05)
		want.TOST.check(t, e, rel, p)
		require.Equal(t, want.TOST.Equivalent, e.Inside())
	})
}

func TestPublishedPairs(t *testing.T) {
	published.Each(t, "07", "paired_", func(t *testing.T, c published.Case) {
		var in struct {
			Differences []float64
			Margin      float64 `json:"equivalence_margin"`
		}
		var want struct {
			T, P float64
			CI   [2]float64 `json:"ci95"`
			TOST equivalenceCase
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, p := c.Named(t, "relative"), c.Named(t, "p_value_relative")
		s, err := Of(in.Differences)
		require.NoError(t, err)
		got := Paired(s, 0.95)
		meansCase{want.T, float64(len(in.Differences) - 1), want.P, want.CI}.check(t, got, rel, p, "paired")
		want.TOST.check(t, got.Equivalent(in.Margin, 0.05), rel, p)
	})
}

func TestPublishedRanksAndDistances(t *testing.T) {
	published.Each(t, "07", "rank_tests_", func(t *testing.T, c published.Case) {
		var in struct{ X, Y []float64 }
		var want struct {
			U       float64  `json:"W_statistic_of_x"`
			Exact   *float64 `json:"exact_p_two_sided"`
			Greater *float64 `json:"exact_p_greater"`
			Normal  float64  `json:"normal_p_two_sided_continuity_corrected"`
			D       float64  `json:"ks_D"`
			DExact  *float64 `json:"ks_p_exact"`
			DLimit  float64  `json:"ks_p_asymptotic"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		got, err := MannWhitney(in.X, in.Y, 0.95)
		require.NoError(t, err)
		require.Equal(t, want.U, got.U)
		require.Equal(t, want.Exact != nil, got.Exact)
		if want.Exact != nil {
			published.Relative(t, *want.Exact, got.P, rel, "exact p")
			published.Relative(t, *want.Greater, got.PGreater, rel, "exact one-sided p")
		}
		m, n := float64(len(in.X)), float64(len(in.Y))
		_, ties := rank(append(append([]float64(nil), in.X...), in.Y...))
		normal, _ := normalRanks(got.U-m*n/2, spreadOfRanks(m, n, ties))
		published.Relative(t, want.Normal, normal, rel, "normal p")

		d, err := KolmogorovSmirnov(in.X, in.Y)
		require.NoError(t, err)
		published.Relative(t, want.D, d.D, rel, "D")
		published.Relative(t, want.DLimit, d.Asymptotic, rel, "asymptotic p")
		require.Equal(t, want.DExact != nil, d.Exact)
		if want.DExact != nil {
			published.Relative(t, *want.DExact, d.P, rel, "exact p of D")
		}
	})
}

func TestPublishedOneSample(t *testing.T) {
	published.Each(t, "07", "ks_one_sample_", func(t *testing.T, c published.Case) {
		var in struct{ X []float64 }
		var want struct {
			D     float64
			Exact float64 `json:"p_exact"`
			Limit float64 `json:"p_asymptotic"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		got, err := OneSample(in.X, law.Phi) // the case's law is the standard normal one
		require.NoError(t, err)
		published.Relative(t, want.D, got.D, rel, "D")
		published.Relative(t, want.Exact, got.P, rel, "exact p")
		published.Relative(t, want.Limit, got.Asymptotic, rel, "asymptotic p")
	})
}

func TestPublishedTables(t *testing.T) {
	published.Each(t, "07", "two_by_two_", func(t *testing.T, c published.Case) {
		var in struct{ Table [2][2]int }
		var want struct {
			P       float64    `json:"fisher_p_two_sided"`
			Greater float64    `json:"fisher_p_greater"`
			Less    float64    `json:"fisher_p_less"`
			Odds    float64    `json:"conditional_MLE_odds_ratio"`
			OddsCI  [2]float64 `json:"odds_ratio_ci95"`
			Diff    float64    `json:"difference"`
			Z       float64    `json:"pooled_z"`
			ZP      float64    `json:"pooled_z_p_two_sided"`
			Chi     float64    `json:"chi_square_no_correction"`
			DiffCI  [2]float64 `json:"newcombe_ci95_difference"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, odds := c.Named(t, "relative"), c.Named(t, "odds_ratio_relative")
		got, err := Fisher(Counts{in.Table[0][0], in.Table[0][1]}, Counts{in.Table[1][0], in.Table[1][1]}, 0.95)
		require.NoError(t, err)
		for what, pair := range map[string][2]float64{"p": {want.P, got.P}, "greater": {want.Greater, got.PGreater}, "less": {want.Less, got.PLess},
			"difference": {want.Diff, got.Difference}, "z": {want.Z, got.Z}, "p of z": {want.ZP, got.ZP}, "chi-square": {want.Chi, got.ChiSquare}} {
			published.Relative(t, pair[0], pair[1], rel, what)
		}
		// The case's roots were stopped at R's default of 1.2e-4, absolute: the odds
		// ratio agrees to that only, the interval's far end to 1 %.
		// TestOddsByDefinition holds the digits.
		published.Relative(t, want.Odds, got.OddsRatio, 10*odds, "odds ratio")
		interval(t, want.OddsCI, got.OddsRange, 100*odds, "odds ratio")
		interval(t, want.DiffCI, got.DifferenceRange, rel, "difference")
	})
}

func TestPublishedGroups(t *testing.T) {
	published.Each(t, "07", "anova_plantgrowth", func(t *testing.T, c published.Case) {
		var in struct{ Groups [][]float64 }
		var want struct {
			F, P     float64
			DF       [2]float64
			Bartlett struct{ K2, P float64 }
			Levene   struct{ F, P float64 } `json:"levene_median"`
			Kruskal  struct{ H, P float64 }
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		for name, test := range map[string]struct {
			f            func([][]float64) (Groups, error)
			statistic, p float64
		}{"ANOVA": {OneWay, want.F, want.P}, "Bartlett": {Bartlett, want.Bartlett.K2, want.Bartlett.P},
			"Levene": {Levene, want.Levene.F, want.Levene.P}, "Kruskal-Wallis": {KruskalWallis, want.Kruskal.H, want.Kruskal.P}} {
			got, err := test.f(in.Groups)
			require.NoError(t, err)
			published.Relative(t, test.statistic, got.Statistic, rel, name)
			published.Relative(t, test.p, got.P, rel, name+" p")
			require.Equal(t, want.DF[0], got.DF1)
		}
	})
}

func TestPublishedPower(t *testing.T) {
	published.Each(t, "07", "power_t_", func(t *testing.T, c published.Case) {
		var in struct{ Delta, SD, Power, Alpha float64 }
		var want struct {
			N float64 `json:"n_per_group_exact"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		published.Relative(t, want.N, Size(in.Delta, in.SD, in.Alpha, in.Power), c.Named(t, "relative"), "n")
	})
}
