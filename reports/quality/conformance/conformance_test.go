package conformance

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality/internal/published"
)

type open struct {
	Lower *float64 `json:"lower_limit"`
	Upper *float64 `json:"upper_limit"`
}

func (o open) limits() Limits {
	l := Limits{math.Inf(-1), math.Inf(1)}
	if o.Lower != nil {
		l.Lower = *o.Lower
	}
	if o.Upper != nil {
		l.Upper = *o.Upper
	}
	return l
}

func TestPublishedProbabilities(t *testing.T) {
	for _, prefix := range []string{"jcgm106_zener", "conformance_"} {
		published.Each(t, "09", prefix, func(t *testing.T, c published.Case) {
			var in struct {
				open
				Measured, U float64
			}
			var want struct {
				P    float64 `json:"conformance_probability"`
				Risk float64 `json:"specific_consumer_risk_if_accepted"`
			}
			published.Load(t, c.Input, &in)
			published.Load(t, c.Expect, &want)
			rel := c.Named(t, "relative")
			published.Relative(t, want.P, in.limits().Probability(in.Measured, in.U), rel, "probability")
			published.Relative(t, want.Risk, in.limits().Risk(in.Measured, in.U), rel, "risk")
		})
	}
}

func TestPublishedGuardBands(t *testing.T) {
	published.Each(t, "09", "guard_band_", func(t *testing.T, c published.Case) {
		if c.ID == "guard_band_r_and_risk_table" {
			var in struct{ R []float64 }
			var want struct {
				Risk []float64 `json:"max_specific_false_accept_risk"`
			}
			published.Load(t, c.Input, &in)
			published.Load(t, c.Expect, &want)
			for i, r := range in.R {
				published.Relative(t, want.Risk[i], LargestRisk(r), c.Named(t, "relative"), "risk")
			}
			return
		}
		var in struct {
			open
			U        float64 `json:"U_k2"`
			R        float64
			Measured []float64
		}
		var want struct {
			Width     float64   `json:"guard_band_w"`
			Lower     *float64  `json:"acceptance_lower"`
			Upper     *float64  `json:"acceptance_upper"`
			Binary    []Verdict `json:"binary_with_guard_band"`
			NonBinary []Verdict `json:"non_binary_with_guard_band"`
			Simple    []Verdict `json:"binary_simple_acceptance"`
			Risk      float64   `json:"max_specific_false_accept_risk"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		rule := Guarded(in.limits(), in.R, in.U)
		simple := Rule{Limits: in.limits()}
		published.Relative(t, want.Width, rule.Guard, rel, "guard band")
		for what, pair := range map[string]struct {
			want *float64
			got  float64
		}{"lower": {want.Lower, rule.Acceptance().Lower}, "upper": {want.Upper, rule.Acceptance().Upper}} {
			if pair.want == nil {
				require.True(t, math.IsInf(pair.got, 0), what)
				continue
			}
			published.Relative(t, *pair.want, pair.got, rel, what)
		}
		for i, v := range in.Measured {
			require.Equal(t, want.Binary[i], rule.Binary(v), "%v", v)
			require.Equal(t, want.NonBinary[i], rule.NonBinary(v), "%v", v)
			require.Equal(t, want.Simple[i], simple.Binary(v), "%v", v)
		}
		published.Relative(t, want.Risk, LargestRisk(in.R), rel, "risk")
	})
}

// TestPublishedGlobalRisks: the inputs of the resistor example are not verified.
func TestPublishedGlobalRisks(t *testing.T) {
	published.Each(t, "09", "global_risk_", func(t *testing.T, c published.Case) {
		var in struct {
			open
			Mean  float64 `json:"process_mean"`
			SD    float64 `json:"process_sd"`
			U     float64 `json:"measurement_u"`
			Lower float64 `json:"acceptance_lower"`
		}
		var limits open
		var want struct {
			Conforming float64 `json:"fraction_conforming"`
			Accepted   float64 `json:"fraction_accepted"`
			Consumer   float64 `json:"consumer_risk_global"`
			Producer   float64 `json:"producer_risk_global"`
			False      float64 `json:"false_accept_share_of_accepted"`
			Ratio      float64 `json:"test_uncertainty_ratio_U95"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Input, &limits)
		published.Load(t, c.Expect, &want)
		l := limits.limits()
		abs := c.Named(t, "absolute")
		got := Process{in.Mean, in.SD, in.U}.Global(Rule{l, in.Lower - l.Lower})
		published.Absolute(t, want.Conforming, got.Conforming, abs, "conforming")
		published.Absolute(t, want.Accepted, got.Accepted, abs, "accepted")
		published.Absolute(t, want.Consumer, got.Consumer, abs, "consumer's risk")
		published.Absolute(t, want.Producer, got.Producer, abs, "producer's risk")
		published.Absolute(t, want.False, got.FalseAccepted, abs, "false share")
		published.Absolute(t, want.Ratio, got.Ratio, abs, "ratio")
	})
}

// TestGlobalRisksBySimulation: the second way draws units and readings.
func TestGlobalRisksBySimulation(t *testing.T) {
	source := rand.New(rand.NewPCG(10, 6))
	p := Process{Mean: 0.3, SD: 0.5, Uncertainty: 0.2}
	rule := Rule{Limits{math.Inf(-1), 1}, 0.1}
	const rounds = 40_000
	var consumer, producer, accepted float64
	for range rounds {
		unit := p.Mean + p.SD*source.NormFloat64()
		pass := rule.Binary(unit+p.Uncertainty*source.NormFloat64()) == Pass
		good := rule.Holds(unit)
		if pass {
			accepted += 1.0 / rounds
		}
		if pass && !good {
			consumer += 1.0 / rounds
		}
		if !pass && good {
			producer += 1.0 / rounds
		}
	}
	g := p.Global(rule)
	require.InDelta(t, accepted, g.Accepted, 0.01)
	require.InDelta(t, consumer, g.Consumer, 0.005)
	require.InDelta(t, producer, g.Producer, 0.007)
	require.True(t, math.IsNaN(g.Ratio), "an open limit has no width")
}

// TestMoreGuardLessRisk: a wider band never accepts more.
func TestMoreGuardLessRisk(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Process{rapid.Float64Range(-1, 1).Draw(t, "mean"), rapid.Float64Range(0.05, 2).Draw(t, "sd"), rapid.Float64Range(0.01, 1).Draw(t, "u")}
		w := rapid.Float64Range(0, 0.4).Draw(t, "w")
		l := Limits{-1, 1}
		a, b := p.Global(Rule{l, w}), p.Global(Rule{l, w + 0.1})
		require.LessOrEqual(t, b.Consumer, a.Consumer+1e-10)
		require.GreaterOrEqual(t, b.Producer, a.Producer-1e-10)
		require.InDelta(t, a.Conforming, a.Accepted-a.Consumer+a.Producer, 1e-8)
	})
}

func TestNothingToDecide(t *testing.T) {
	l := Limits{0, 1}
	for name, v := range map[string]float64{
		"no uncertainty": l.Probability(0.5, 0), "turned round": Limits{1, 0}.Risk(0.5, 0.1), "no reading": l.Probability(math.NaN(), 0.1),
		"no process": Process{0, 0, 1}.Global(Rule{Limits: l}).Consumer, "no measurement": Process{0, 1, 0}.Global(Rule{Limits: l}).Accepted,
	} {
		require.True(t, math.IsNaN(v), name)
	}
}

func BenchmarkGlobal(b *testing.B) {
	for b.Loop() {
		Process{0, 1, 0.1}.Global(Rule{Limits{-2, 2}, 0.1})
	}
}

// TestProbabilityOfConformance: the breakdown voltage of a diode, JCGM 106:2012, 7.2.2
// (-5.47 V, u = 0.05 V, upper limit -5.4 V: 0.92; from memory), a rail between
// two limits, and a value on its limit. More digits by R 4.2.2.
func TestProbabilityOfConformance(t *testing.T) {
	require.InDelta(t, 0.92, Limits{math.Inf(-1), -5.4}.Probability(-5.47, 0.05), 0.005)
	require.InDelta(t, 0.919243340766227, Limits{math.Inf(-1), -5.4}.Probability(-5.47, 0.05), 1e-12)
	require.InDelta(t, 0.977249868051821, Limits{3.25, 3.33}.Probability(3.318, 0.006), 1e-9)
	require.InDelta(t, 0.5, Limits{4.9, 5.1}.Probability(5.1, 0.01), 1e-9)
}
