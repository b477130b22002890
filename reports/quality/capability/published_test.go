package capability

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/published"
	"sinkproof/reports/quality/spread"
)

// limits as they stand in the cases: an open side or no target is null.
type limits struct {
	LSL, USL, Target *float64
}

func (l limits) of() Limits {
	out := Limits{math.Inf(-1), math.Inf(1), math.NaN()}
	for from, to := range map[*float64]*float64{l.LSL: &out.Lower, l.USL: &out.Upper, l.Target: &out.Target} {
		if from != nil {
			*to = *from
		}
	}
	return out
}

func pair(t *testing.T, want []float64, got quality.Interval, rel float64, what string) {
	t.Helper()
	require.Len(t, want, 2)
	published.Relative(t, want[0], got.Low, rel, what+" low")
	published.Relative(t, want[1], got.High, rel, what+" high")
}

func TestPublishedSummaries(t *testing.T) {
	published.Each(t, "03", "summary_", func(t *testing.T, c published.Case) {
		var in struct {
			limits
			Mean, S    float64
			N          *int
			Confidence *float64
		}
		var want struct {
			Cp, Cpu, Cpl, Cpk float64
			Offset            float64   `json:"k_offset"`
			Cpm               *float64  `json:"Cpm_from_mean_and_s"`
			Below             float64   `json:"expected_ppm_below"`
			Above             float64   `json:"expected_ppm_above"`
			CpCI              []float64 `json:"Cp_ci_chi_square"`
			CpkCI             []float64 `json:"Cpk_ci_Bissell"`
			Bound             float64   `json:"Cpk_lower_bound_one_sided_Bissell"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, l := c.Named(t, "relative"), in.of()
		published.Relative(t, want.Cp, l.Cp(in.S), rel, "Cp")
		published.Relative(t, want.Cpu, l.CPU(in.Mean, in.S), rel, "CPU")
		published.Relative(t, want.Cpl, l.CPL(in.Mean, in.S), rel, "CPL")
		published.Relative(t, want.Cpk, l.Cpk(in.Mean, in.S), rel, "Cpk")
		published.Relative(t, want.Offset, l.Offset(in.Mean), rel, "k")
		if want.Cpm != nil {
			published.Relative(t, *want.Cpm, l.Cpm(in.Mean, in.S), rel, "Cpm")
		}
		below, above := l.Nonconforming(in.Mean, in.S)
		published.Relative(t, want.Below, below*1e6, rel, "below")
		published.Relative(t, want.Above, above*1e6, rel, "above")
		if in.N == nil {
			return
		}
		df := float64(*in.N - 1)
		pair(t, want.CpCI, CpInterval(want.Cp, df, *in.Confidence), rel, "Cp")
		pair(t, want.CpkCI, CpkInterval(want.Cpk, *in.N, df, *in.Confidence), rel, "Cpk")
		published.Relative(t, want.Bound, CpkLowerBound(want.Cpk, *in.N, df, *in.Confidence), rel, "bound")
	})
}

func TestPublishedCpkInterval(t *testing.T) {
	published.Each(t, "03", "cpk_ci_", func(t *testing.T, c published.Case) {
		var in struct {
			Cpk, Confidence float64
			N               int
		}
		var want struct{ CI []float64 }
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		pair(t, want.CI, CpkInterval(in.Cpk, in.N, float64(in.N-1), in.Confidence), c.Named(t, "relative"), "Cpk")
	})
}

func TestPublishedOneSided(t *testing.T) {
	published.Each(t, "03", "one_sided_", func(t *testing.T, c published.Case) {
		var in struct {
			limits
			Mean, S, Confidence float64
			N                   int
		}
		var want struct {
			Cpk   float64 `json:"Cpk_one_sided_spec"`
			Bound float64 `json:"lower_bound_Bissell"`
			Exact float64 `json:"lower_bound_exact_noncentral_t"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, df := c.Named(t, "relative"), float64(in.N-1)
		cpk := in.of().Cpk(in.Mean, in.S)
		published.Relative(t, want.Cpk, cpk, rel, "Cpk")
		require.True(t, math.IsNaN(in.of().Cp(in.S)), "no Cp with an open side")
		published.Relative(t, want.Bound, CpkLowerBound(cpk, in.N, df, in.Confidence), rel, "Bissell")
		published.Relative(t, want.Exact, CpkExactBound(cpk, in.N, df, in.Confidence), c.Named(t, "exact_bound_relative"), "exact")
	})
}

type byMethod struct{ Sigma, Cp, Cpk, CPU, CPL float64 }

func TestPublishedSubgroups(t *testing.T) {
	for _, prefix := range []string{"pistonrings_", "simulated_"} {
		published.Each(t, "03", prefix, checkSubgroups)
	}
}

func checkSubgroups(t *testing.T, c published.Case) {
	var in struct {
		limits
		Subgroups  [][]float64
		Confidence float64
	}
	var want struct {
		Mean    float64
		Within  map[string]byMethod `json:"within_by_method"`
		Overall struct {
			S, Pp, Ppk float64
			Cpm        float64 `json:"Cpm_s2_n_minus_1"`
			CpmN       float64 `json:"Cpm_mean_square_n"`
		}
		CI struct {
			Cp    []float64 `json:"Cp_ci_chi_square"`
			Cpk   []float64 `json:"Cpk_ci_Bissell"`
			Bound float64   `json:"Cpk_lower_bound_one_sided_Bissell"`
		} `json:"overall_ci"`
		Out float64 `json:"observed_ppm_out"`
	}
	published.Load(t, c.Input, &in)
	published.Load(t, c.Expect, &want)
	rel, l := c.Named(t, "relative"), in.of()
	methods := map[string]spread.Method{"range_over_d2": spread.MeanRange, "sbar_over_c4": spread.MeanDeviation, "pooled": spread.Pooled, "pooled_over_c4": spread.PooledUnbiased}
	require.Len(t, want.Within, len(methods))
	for name, w := range want.Within {
		r, err := Study(in.Subgroups, l, methods[name], in.Confidence)
		require.NoError(t, err)
		published.Relative(t, want.Mean, r.Mean, rel, "mean")
		published.Relative(t, w.Sigma, r.SDWithin, rel, name+" sigma")
		published.Relative(t, w.Cp, r.Cp.Value, rel, name+" Cp")
		published.Relative(t, w.Cpk, r.Cpk.Value, rel, name+" Cpk")
		published.Relative(t, w.CPU, l.CPU(r.Mean, r.SDWithin), rel, name+" CPU")
		published.Relative(t, w.CPL, l.CPL(r.Mean, r.SDWithin), rel, name+" CPL")
		published.Relative(t, want.Overall.S, r.SDOverall, rel, "s")
		published.Relative(t, want.Overall.Pp, r.Pp.Value, rel, "Pp")
		published.Relative(t, want.Overall.Ppk, r.Ppk.Value, rel, "Ppk")
		published.Relative(t, want.Overall.Cpm, r.Cpm.Value, rel, "Cpm")
		n := float64(r.N)
		published.Relative(t, want.Overall.CpmN, l.Cpm(r.Mean, r.SDOverall*math.Sqrt((n-1)/n)), rel, "Cpm by n")
		pair(t, want.CI.Cp, r.Pp.Interval, rel, "Pp")
		pair(t, want.CI.Cpk, r.Ppk.Interval, rel, "Ppk")
		published.Relative(t, want.CI.Bound, CpkLowerBound(r.Ppk.Value, r.N, n-1, in.Confidence), rel, "bound")
		published.Absolute(t, want.Out, r.NonconformingObserved*1e6, 0, "observed")
	}
}

func TestPublishedPercentiles(t *testing.T) {
	published.Each(t, "03", "nonnormal_", func(t *testing.T, c published.Case) {
		var in struct {
			limits
			Distribution   string
			Meanlog, Sdlog float64
			Shape, Scale   float64
		}
		var want struct {
			Low    float64 `json:"q0.00135"`
			Median float64
			High   float64 `json:"q0.99865"`
			Pp     *float64
			Ppu    float64
			Ppl    *float64
			Ppk    float64
			Out    float64 `json:"fraction_out"`
			Equal  float64 `json:"Ppk_from_fraction_out_equivalent"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		var law interface {
			Quantile(float64) float64
			CDF(float64) float64
			Survival(float64) float64
		} = distuv.LogNormal{Mu: in.Meanlog, Sigma: in.Sdlog}
		if in.Distribution == "weibull" {
			law = distuv.Weibull{K: in.Shape, Lambda: in.Scale}
		}
		rel, l := c.Named(t, "relative"), in.of()
		got := l.FromQuantiles(law.Quantile)
		published.Relative(t, want.Low, got.Low, rel, "low quantile")
		published.Relative(t, want.Median, got.Median, rel, "median")
		published.Relative(t, want.High, got.High, rel, "high quantile")
		published.Relative(t, want.Ppu, got.Ppu, rel, "Ppu")
		published.Relative(t, want.Ppk, got.Ppk, rel, "Ppk")
		if want.Ppl == nil {
			require.True(t, math.IsNaN(got.Ppl) && math.IsNaN(got.Pp))
		} else {
			published.Relative(t, *want.Ppl, got.Ppl, rel, "Ppl")
			published.Relative(t, *want.Pp, got.Pp, rel, "Pp")
		}
		above, below := law.Survival(l.Upper), 0.0
		if !math.IsInf(l.Lower, 0) {
			below = law.CDF(l.Lower)
		}
		published.Relative(t, want.Out, above+below, rel, "fraction out")
		published.Relative(t, want.Equal, Equivalent(math.Max(above, below)), rel, "equivalent Ppk")
	})
}

func TestPublishedBoxCox(t *testing.T) {
	published.Each(t, "03", "boxcox_", func(t *testing.T, c published.Case) {
		var in struct{ Data []float64 }
		var want struct{ Lambda, Loglik float64 }
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		got, err := FitBoxCox(in.Data)
		require.NoError(t, err)
		published.Absolute(t, want.Lambda, got.Lambda, c.Named(t, "lambda_absolute"), "lambda")
		published.Absolute(t, want.Loglik, got.LogLikelihood, c.Named(t, "loglik_absolute"), "log-likelihood")
	})
}
