package statistics

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func biasOf(t *testing.T, c publishedCase) {
	var in struct {
		Readings  []float64
		Reference json.Number
	}
	var want struct {
		Bias, S, SE, T, DF, P float64
		CI                    []float64 `json:"ci95_bias"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, csv("v", written(in.Readings)), "study", "bias", "-", "--reference", in.Reference.String())
	rel := c.tolerance(t, "relative")
	for name, value := range map[string]float64{"bias": want.Bias, "sd": want.S, "se": want.SE, "t": want.T, "df": want.DF, "p": want.P, "bias_low": want.CI[0], "bias_high": want.CI[1]} {
		near(t, value, got.number(t, name), rel, name)
	}
}

func linearityOf(t *testing.T, c publishedCase) {
	var in struct {
		Reference []float64
		Readings  [][]float64
	}
	var want struct {
		Bias             []float64 `json:"bias_average"`
		Slope, Intercept float64
		S                float64 `json:"s_residual"`
		R2               float64
		TSlope           float64      `json:"t_slope"`
		TIntercept       float64      `json:"t_intercept"`
		PSlope           float64      `json:"p_slope"`
		PIntercept       float64      `json:"p_intercept"`
		T                []float64    `json:"bias_t_per_reference"`
		P                []float64    `json:"bias_p_per_reference"`
		Bands            [][2]float64 `json:"ci95_line_at_reference"`
	}
	c.load(t, &in, &want)
	text := "reference,reading\n"
	for i, at := range in.Reference {
		for _, v := range in.Readings[i] {
			text += fmt.Sprintf("%v,%v\n", at, v)
		}
	}
	got := answerOf(t, text, "study", "linearity", "-", "--reference", "reference")
	rel := c.tolerance(t, "relative")
	for name, value := range map[string]float64{"slope": want.Slope, "intercept": want.Intercept, "residual_sd": want.S, "r2": want.R2,
		"slope_t": want.TSlope, "intercept_t": want.TIntercept, "slope_p": want.PSlope, "intercept_p": want.PIntercept} {
		near(t, value, got.number(t, name), rel, name)
	}
	points := got.list(t, "points")
	require.Len(t, points, len(in.Reference))
	for i, p := range points {
		require.Equal(t, in.Reference[i], p["reference"])
		for name, value := range map[string]float64{"bias": want.Bias[i], "t": want.T[i], "p": want.P[i], "line_low": want.Bands[i][0], "line_high": want.Bands[i][1]} {
			near(t, value, p.number(t, name), rel, name)
		}
	}
}

// kappaOf: a table of counts is a file of as many parts.
func kappaOf(t *testing.T, c publishedCase) {
	var in struct {
		Table [][]int `json:"crosstab_rows_rater1_columns_rater2"`
	}
	var want struct {
		Observed float64 `json:"observed_agreement"`
		Chance   float64 `json:"chance_agreement"`
		Kappa    float64 `json:"cohen_kappa"`
	}
	c.load(t, &in, &want)
	var text strings.Builder
	text.WriteString("part,person,verdict,truth\n")
	parts := 0
	for one, counts := range in.Table {
		for other, n := range counts {
			for range n {
				parts++
				fmt.Fprintf(&text, "%d,A,class %d,class %d\n%d,B,class %d,class %d\n", parts, one, other, parts, other, other)
			}
		}
	}
	got := answerOf(t, text.String(), "study", "agreement", "-", "--part", "part", "--appraiser", "person", "--value", "verdict", "--reference", "truth")
	rel := c.tolerance(t, "relative")
	// B is as the reference, so that A has the same kappa with both.
	for _, list := range []string{"pairs", "reference"} {
		p := got.list(t, list)[0]
		near(t, want.Observed, p.number(t, "observed"), rel, "observed")
		near(t, want.Chance, p.number(t, "chance"), rel, "chance")
		near(t, want.Kappa, p.number(t, "kappa"), rel, "kappa")
	}
	require.Equal(t, 1.0, got.list(t, "reference")[1]["kappa"])
	near(t, want.Kappa, got.number(t, "least_kappa"), rel, "least")
	require.EqualValues(t, parts, got["parts"])
}

func sequential(t *testing.T, c publishedCase) {
	var in struct{ P1, P2, Alpha, Beta json.Number }
	var want struct {
		Accept float64 `json:"acceptance_intercept"`
		Reject float64 `json:"rejection_intercept"`
		Slope  float64
	}
	c.load(t, &in, &want)
	got := answerOf(t, "", "lot", "sequential", "--producer-quality", in.P1.String(), "--producer-risk", in.Alpha.String(), "--consumer-quality", in.P2.String(), "--consumer-risk", in.Beta.String())
	rel := c.tolerance(t, "relative")
	near(t, want.Accept, got.number(t, "acceptance_intercept"), rel, "accept")
	near(t, want.Reject, got.number(t, "rejection_intercept"), rel, "reject")
	near(t, want.Slope, got.number(t, "slope"), rel, "slope")
	// The table of the same section of the handbook: two bad ones reject up to 19
	// units, from 20 on it takes three; 24 good ones accept (from memory).
	b := got.list(t, "boundaries")
	require.Equal(t, 24.0, b[0]["accept_from"])
	require.NotContains(t, b[1], "reject_until")
	require.Equal(t, 19.0, b[2]["reject_until"])
}

// known is the flag for a known standard deviation.
func known(sigma string) []string {
	if sigma == "known" {
		return []string{"--sigma", "1"}
	}
	return nil
}

func findVariables(t *testing.T, c publishedCase) {
	var in struct {
		AQL, Alpha, RQL, Beta json.Number
		Sigma                 string
	}
	var want struct {
		N        float64
		Producer float64 `json:"k_for_exact_producer_risk"`
		Consumer float64 `json:"k_for_exact_consumer_risk"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, "", append([]string{"lot", "variables", "--producer-quality", in.AQL.String(), "--producer-risk", in.Alpha.String(),
		"--consumer-quality", in.RQL.String(), "--consumer-risk", in.Beta.String()}, known(in.Sigma)...)...)
	abs := c.tolerance(t, "k_absolute")
	require.Equal(t, want.N, got["sample_size"])
	require.InDelta(t, want.Producer, got.number(t, "k_producer"), abs)
	require.InDelta(t, want.Consumer, got.number(t, "k_consumer"), abs)
	require.Equal(t, got["k_producer"], got["k"])
	alpha, err := in.Alpha.Float64()
	require.NoError(t, err)
	require.InDelta(t, alpha, got.number(t, "producer_risk"), 1e-9)
}

func variablesOC(t *testing.T, c publishedCase) {
	var in struct {
		N int
		K json.Number
		P []float64
	}
	var want struct {
		S     []float64 `json:"Pa_s_method"`
		Known []float64 `json:"Pa_sigma_known"`
	}
	c.load(t, &in, &want)
	for sigma, chances := range map[string][]float64{"": want.S, "known": want.Known} {
		got := answerOf(t, "", append([]string{"lot", "variables", "--sample-size", fmt.Sprint(in.N), "--k", in.K.String(), "--at", strings.Join(written(in.P), ",")}, known(sigma)...)...)
		points := got.list(t, "points")
		require.Len(t, points, len(in.P))
		for i, p := range points {
			near(t, chances[i], p.number(t, "accept_probability"), c.tolerance(t, "relative"), sigma)
		}
	}
}

// measuredLot: examples B-2 and B-4 go by estimated shares, which are printed as
// well; B-1 by k.
func measuredLot(t *testing.T, c publishedCase) {
	var in struct {
		Data []float64
		L, U *float64
		K    *float64
	}
	var want struct {
		Mean, S float64
		Q       float64  `json:"Q_U"`
		Above   *float64 `json:"p_U_percent"`
		Below   *float64 `json:"p_L_percent"`
		Accept  bool
	}
	c.load(t, &in, &want)
	k := 0.0
	if in.K != nil {
		k = *in.K
	}
	args := append([]string{"lot", "variables", "-", "--sample-size", fmt.Sprint(len(in.Data)), "--k", fmt.Sprint(k)}, limitsOf{LSL: in.L, USL: in.U}.flags()...)
	got := answerOf(t, csv("v", written(in.Data)), args...)
	if in.K != nil {
		require.Equal(t, want.Mean, got["mean"])
		require.InDelta(t, want.S, got.number(t, "sd"), c.tolerance(t, "s_absolute"))
		require.InDelta(t, want.Q, got.number(t, "q_upper"), c.tolerance(t, "Q_absolute"))
		require.Equal(t, want.Accept, got["accepted"])
		require.NotContains(t, got, "q_lower")
		require.NotContains(t, got, "below_lower")
	}
	for name, p := range map[string]*float64{"above_upper": want.Above, "below_lower": want.Below} {
		if p != nil {
			require.InDelta(t, *p, 100*got.number(t, name), c.tolerance(t, "p_percent_absolute"))
		}
	}
}

// beyond: a sample whose mean lies so many standard deviations below the limit.
func beyond(t *testing.T, c publishedCase) {
	var in struct {
		Q float64
		N int
	}
	var want struct {
		P float64 `json:"p_hat"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, csv("v", written(sample(in.N, 0, 1))), "lot", "variables", "-", "--sample-size", fmt.Sprint(in.N), "--k", "0", "--upper", fmt.Sprint(in.Q))
	require.InDelta(t, want.P, got.number(t, "above_upper"), c.tolerance(t, "absolute"))
}
