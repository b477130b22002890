package chart

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/internal/published"
)

func TestPublishedConstants(t *testing.T) {
	published.Each(t, "05", "constants_", func(t *testing.T, c published.Case) {
		var want struct{ Rows []map[string]float64 }
		published.Load(t, c.Expect, &want)
		require.Len(t, want.Rows, 24)
		plain, hard := c.Named(t, "relative"), c.Named(t, "d3_and_D_factors_relative")
		for _, row := range want.Rows {
			k := Of(int(row["n"]))
			for name, got := range map[string]float64{"d2": k.RangeMean, "c4": k.DeviationMean, "A": k.A, "A2": k.A2, "A3": k.A3,
				"B3": k.B3, "B4": k.B4, "B5": k.B5, "B6": k.B6} {
				published.Relative(t, row[name], got, plain, name)
			}
			for name, got := range map[string]float64{"d3": k.RangeSD, "D1": k.D1, "D2": k.D2, "D3": k.D3, "D4": k.D4} {
				published.Relative(t, row[name], got, hard, name)
			}
		}
	})
}

type limits struct{ LCL, CL, UCL float64 }

func (l limits) check(t *testing.T, c Chart, rel float64, what string) {
	t.Helper()
	published.Relative(t, l.CL, c.Centre, rel, what+" centre")
	published.Relative(t, l.LCL, c.Lower, rel, what+" lower")
	published.Relative(t, l.UCL, c.Upper, rel, what+" upper")
}

func TestPublishedPistonRings(t *testing.T) {
	var rings [][]float64
	published.Each(t, "05", "xbar_R_S_pistonrings", func(t *testing.T, c published.Case) {
		var in struct{ Subgroups [][]float64 }
		var want struct {
			SigmaR float64   `json:"sigma_from_R"`
			SigmaS float64   `json:"sigma_from_s"`
			XR     limits    `json:"xbar_chart_from_R"`
			R      limits    `json:"R_chart"`
			XS     limits    `json:"xbar_chart_from_s"`
			S      limits    `json:"s_chart"`
			Means  []float64 `json:"subgroup_means"`
			Ranges []float64 `json:"subgroup_ranges"`
			SDs    []float64 `json:"subgroup_sds"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rings = in.Subgroups
		rel := c.Named(t, "relative")
		r, err := Variables(XbarR, in.Subgroups, WesternElectric())
		require.NoError(t, err)
		s, err := Variables(XbarS, in.Subgroups, nil)
		require.NoError(t, err)
		published.Relative(t, want.SigmaR, r.Sigma, rel, "sigma from R")
		published.Relative(t, want.SigmaS, s.Sigma, rel, "sigma from s")
		want.XR.check(t, r.Location, rel, "means")
		want.R.check(t, r.Spread, rel, "ranges")
		want.XS.check(t, s.Location, rel, "means")
		want.S.check(t, s.Spread, rel, "deviations")
		for i := range in.Subgroups {
			published.Relative(t, want.Means[i], r.Location.Points[i].Value, rel, "mean")
			published.Relative(t, want.Ranges[i], r.Spread.Points[i].Value, rel, "range")
			published.Relative(t, want.SDs[i], s.Spread.Points[i].Value, rel, "deviation")
		}
	})
	published.Each(t, "05", "xbar_pistonrings_phase2", func(t *testing.T, c published.Case) {
		var in struct {
			New [][]float64 `json:"new_subgroups"`
		}
		var want struct {
			Means  []float64
			Beyond []int `json:"beyond_limits_positions"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		b, err := Estimate(XbarR, rings)
		require.NoError(t, err)
		got, err := b.Variables(XbarR, in.New, []Rule{BeyondLimits})
		require.NoError(t, err)
		for i, p := range got.Location.Points {
			published.Absolute(t, want.Means[i], p.Value, c.Named(t, "absolute"), "mean")
		}
		var beyond []int
		for _, at := range got.Location.Out() {
			beyond = append(beyond, at+len(rings)) // counted on from phase 1
		}
		require.Equal(t, want.Beyond, beyond)
	})
}

func TestPublishedIndividuals(t *testing.T) {
	published.Each(t, "05", "imr_", func(t *testing.T, c published.Case) {
		var in struct{ X []float64 }
		var want struct {
			Mean, Sigma, LCL, UCL float64
			MR                    float64 `json:"MR_bar"`
			MRUCL                 float64 `json:"MR_UCL"`
			Rounded               float64 `json:"LCL_with_d2_1.128"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		got, err := Variables(Individuals, [][]float64{in.X}, nil)
		require.NoError(t, err)
		limits{want.LCL, want.Mean, want.UCL}.check(t, got.Location, rel, "values")
		published.Relative(t, want.Sigma, got.Sigma, rel, "sigma")
		limits{0, want.MR, want.MRUCL}.check(t, got.Spread, rel, "moving ranges")
		// The handbook's own limits, with d2 rounded to 1.128.
		published.Relative(t, want.Rounded, want.Mean-3*got.Spread.Centre/1.128, rel, "rounded")
		require.Len(t, got.Spread.Points, len(in.X)-1)
	})
}

func TestPublishedEWMA(t *testing.T) {
	published.Each(t, "05", "ewma_nist", func(t *testing.T, c published.Case) {
		var in struct {
			X                        []float64
			Lambda, Target, Sigma, L float64
		}
		var want struct {
			Ewma []float64
			High float64   `json:"UCL_asymptotic"`
			Low  float64   `json:"LCL_asymptotic"`
			UCL  []float64 `json:"UCL_exact"`
			LCL  []float64 `json:"LCL_exact"`
			Out  []int     `json:"signals_exact"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		abs := c.Named(t, "absolute")
		got, err := Moving(in.X, in.Target, in.Sigma, in.Lambda, in.L)
		require.NoError(t, err)
		published.Absolute(t, want.High, got.AsymptoticUpper, abs, "upper")
		published.Absolute(t, want.Low, got.AsymptoticLower, abs, "lower")
		for i, p := range got.Points {
			published.Absolute(t, want.Ewma[i], p.Value, abs, "average")
			published.Absolute(t, want.UCL[i], p.Upper, abs, "upper")
			published.Absolute(t, want.LCL[i], p.Lower, abs, "lower")
		}
		require.Empty(t, want.Out)
		require.Empty(t, got.Out())
	})
}

func TestPublishedCusum(t *testing.T) {
	published.Each(t, "05", "cusum_nist", func(t *testing.T, c published.Case) {
		var in struct {
			X            []float64
			Target, K, H float64
		}
		var want struct {
			High  []float64 `json:"S_hi"`
			Low   []float64 `json:"S_lo"`
			Sum   []float64 `json:"cusum"`
			First int       `json:"first_signal_hi"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		abs := c.Named(t, "absolute")
		got, err := Cumulate(in.X, in.Target, in.K, in.H)
		require.NoError(t, err)
		for i := range in.X {
			published.Absolute(t, want.High[i], got.High[i], abs, "high")
			published.Absolute(t, want.Low[i], got.Low[i], abs, "low")
			published.Absolute(t, want.Sum[i], got.Sum[i], abs, "sum")
		}
		require.Equal(t, want.First, got.Out()[0])
	})
}

// TestPublishedCounts: the c-chart data of the wafers are not verified; their
// sum and the printed limits agree.
func TestPublishedCounts(t *testing.T) {
	for prefix, kind := range map[string]Count{"c_chart_": C, "p_chart_": P, "u_chart_": U} {
		published.Each(t, "05", prefix, func(t *testing.T, c published.Case) {
			var in struct{ Counts, Nonconforming, N []float64 }
			var want struct {
				Center   float64
				LCL, UCL json.RawMessage
				Out      []int
			}
			published.Load(t, c.Input, &in)
			published.Load(t, c.Expect, &want)
			rel := c.Named(t, "relative")
			got, err := Attributes(kind, append(in.Counts, in.Nonconforming...), in.N, []Rule{BeyondLimits})
			require.NoError(t, err)
			published.Relative(t, want.Center, got.Centre, rel, "centre")
			lower, upper := eachPoint(t, want.LCL, len(got.Points)), eachPoint(t, want.UCL, len(got.Points))
			for i, p := range got.Points {
				published.Relative(t, lower[i], p.Lower, rel, "lower")
				published.Relative(t, upper[i], p.Upper, rel, "upper")
			}
			require.ElementsMatch(t, want.Out, got.Out())
			if kind != P {
				return
			}
			np, err := Attributes(NP, in.Nonconforming, in.N, []Rule{BeyondLimits})
			require.NoError(t, err)
			require.Equal(t, got.Out(), np.Out(), "counts tell the same as fractions")
			published.Relative(t, upper[0]*in.N[0], np.Points[0].Upper, rel, "np upper")
		})
	}
}

// eachPoint reads a limit that is one number for all points or one for each.
func eachPoint(t *testing.T, raw json.RawMessage, n int) []float64 {
	if raw[0] == '[' {
		var each []float64
		published.Load(t, raw, &each)
		return each
	}
	var one float64
	published.Load(t, raw, &one)
	all := make([]float64, n)
	for i := range all {
		all[i] = one
	}
	return all
}

func TestPublishedRules(t *testing.T) {
	published.Each(t, "05", "rules_sequence_", func(t *testing.T, c published.Case) {
		var in struct{ Z []float64 }
		var want map[string]map[string][]int
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		for set, rules := range map[string]map[string]Rule{
			"western_electric": {"rule1_one_beyond_3_sigma": BeyondLimits, "rule2_two_of_3_beyond_2_sigma_same_side": TwoOfThree,
				"rule3_four_of_5_beyond_1_sigma_same_side": FourOfFive, "rule4_eight_in_a_row_same_side": EightOnOneSide},
			"nelson": {"test1_beyond_3_sigma": BeyondLimits, "test2_nine_same_side": NineOnOneSide, "test3_six_steadily_up_or_down": SixSteady,
				"test4_fourteen_alternating": FourteenAlternating, "test5_two_of_3_beyond_2_sigma": TwoOfThree,
				"test6_four_of_5_beyond_1_sigma": FourOfFive, "test7_fifteen_within_1_sigma": FifteenWithin,
				"test8_eight_beyond_1_sigma_either_side": EightBeyond},
		} {
			require.Len(t, want[set], len(rules))
			for name, places := range want[set] {
				rule, ok := rules[name]
				require.True(t, ok, name)
				require.ElementsMatch(t, places, rule.Broken(in.Z, in.Z), name)
			}
		}
	})
	published.Each(t, "05", "rules_definition", func(t *testing.T, c published.Case) {
		var want map[string][]string
		published.Load(t, c.Expect, &want)
		require.Len(t, WesternElectric(), len(want["western_electric"]))
		require.Len(t, Nelson(), len(want["nelson"]))
	})
}

func TestPublishedRunLengths(t *testing.T) {
	published.Each(t, "05", "arl_", func(t *testing.T, c published.Case) {
		var in struct {
			Limit, K, H, Lambda, L float64
			Rules                  json.RawMessage
			Shift                  []float64 `json:"shift_sigma"`
		}
		var want struct{ ARL []float64 }
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		for i, shift := range in.Shift {
			var got float64
			switch {
			case in.Limit > 0:
				got = LimitsRunLength(in.Limit, shift)
			case in.H > 0:
				got = CusumRunLength(in.K, in.H, shift)
			case in.Lambda > 0:
				got = MovingRunLength(in.Lambda, in.L, shift)
			default:
				var err error
				got, err = RunLength(numbered(t, in.Rules), shift)
				require.NoError(t, err)
			}
			published.Relative(t, want.ARL[i], got, rel, "run length")
		}
	})
}

// numbered reads one Western Electric rule, or several, by number.
func numbered(t *testing.T, raw json.RawMessage) []Rule {
	if raw[0] != '[' {
		raw = json.RawMessage("[" + string(raw) + "]")
	}
	var numbers []int
	published.Load(t, raw, &numbers)
	var rules []Rule
	for _, n := range numbers {
		rules = append(rules, WesternElectric()[n-1])
	}
	return rules
}
