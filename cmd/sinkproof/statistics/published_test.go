package statistics

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestPublished puts every published example that a command can answer to that
// command, as a file on its standard input, and compares what it prints. The
// others are listed with the reason, so that none is forgotten.
func TestPublished(t *testing.T) {
	driven := map[string][]struct {
		prefix string
		check  func(*testing.T, publishedCase)
	}{
		"01": {{"plan_lookup_", lookup}, {"master_table_single_", masterTable}, {"code_letter_table", letters}, {"oc_n", oc},
			{"aoq_ati_", aoq}, {"quality_levels_", qualityLevels}, {"find_plan_", findPlan}, {"sequential_", sequential},
			{"double_", double}, {"zero_accept_", zeroAccept}},
		"02": {{"find_nk_", findVariables}, {"oc_", variablesOC}, {"z19_B", measuredLot}, {"fraction_nonconforming_", beyond}},
		"03": {{"summary_", summary}, {"one_sided_", oneSided}, {"pistonrings_", subgroupCapability}, {"simulated_", subgroupCapability}, {"boxcox_", boxCox}},
		"04": {{"aiag_10", gaugeStudy}, {"sixsigma_", gaugeStudy}, {"simulated_10", gaugeStudy}, {"simulated_5", gaugeStudy},
			{"aiag_bias", biasOf}, {"simulated_bias", biasOf}, {"aiag_linearity", linearityOf}, {"simulated_linearity", linearityOf}, {"attribute_agreement_", kappaOf}},
		"05": {{"xbar_R_S_", xbar}, {"xbar_pistonrings_phase2", phase2}, {"imr_", individuals}, {"ewma_", ewma}, {"cusum_", cusum},
			{"c_chart_", counts}, {"p_chart_", counts}, {"u_chart_", counts}, {"rules_sequence_", rules}, {"arl_", runLengths}},
		"06": {{"strd_", strd}, {"normality_", normal}, {"summary_", precipitation}},
		"07": {{"interval_", intervals}, {"t_tests_", means}, {"rank_tests_", ranks}},
		"08": {{"k_", factors}, {"nist_example", factorExample}, {"distribution_free_", distributionFree}},
	}
	elsewhere := map[string]string{
		"switching_": "the history of lots", "audit_": "a plan for an audit",
		"cpk_ci_": "an index without its mean and spread", "nonnormal_": "a law without a sample",
		"average_range_constants": "factors", "constants_": "factors", "rules_definition": "names of rules",
		"nist_gauge": "pooling of spreads", "z19_table": "a printed table of k", "z19_code": "a printed table of letters",
		"grubbs_": "outliers", "binom_test_": "a test of one fraction", "two_by_two_": "two fractions", "paired_": "pairs", "ks_one_sample": "one sample", "anova_": "several groups", "power_": "power",
	}
	for subject, list := range driven {
		for _, c := range examples(t, subject) {
			at := slices.IndexFunc(list, func(d struct {
				prefix string
				check  func(*testing.T, publishedCase)
			}) bool {
				return strings.HasPrefix(c.ID, d.prefix)
			})
			if at < 0 {
				reason := ""
				for prefix, why := range elsewhere {
					if strings.HasPrefix(c.ID, prefix) {
						reason = why
					}
				}
				require.NotEmpty(t, reason, "no command is asked for case %s of subject %s", c.ID, subject)
				continue
			}
			t.Run(c.ID, func(t *testing.T) {
				t.Cleanup(func() {
					if t.Failed() {
						t.Logf("source: %s (%s)", c.Source, c.Provenance)
					}
				})
				list[at].check(t, c)
			})
		}
	}
}

// limitsOf are the flags for limits of a case, where an open one is null.
type limitsOf struct{ LSL, USL, Target *float64 }

func (l limitsOf) flags() []string {
	var out []string
	for _, x := range []struct {
		name  string
		value *float64
	}{{"lower", l.LSL}, {"upper", l.USL}, {"target", l.Target}} {
		if x.value != nil {
			out = append(out, "--"+x.name, strconv.FormatFloat(*x.value, 'g', -1, 64))
		}
	}
	return out
}

// summary: a mean and a spread, of which a sample is made.
func summary(t *testing.T, c publishedCase) {
	var in struct {
		limitsOf
		Mean, S    float64
		N          *int
		Confidence *float64
	}
	var want struct {
		Cp, Cpk      float64
		Cpm          *float64  `json:"Cpm_from_mean_and_s"`
		Below, Above float64   `json:"-"`
		CpCI         []float64 `json:"Cp_ci_chi_square"`
		CpkCI        []float64 `json:"Cpk_ci_Bissell"`
		PPMBelow     float64   `json:"expected_ppm_below"`
		PPMAbove     float64   `json:"expected_ppm_above"`
	}
	c.load(t, &in, &want)
	n := 30
	if in.N != nil {
		n = *in.N
	}
	got := answerOf(t, csv("v", written(sample(n, in.Mean, in.S))), append([]string{"study", "capability", "-"}, in.flags()...)...)
	rel := c.tolerance(t, "relative")
	near(t, want.Cp, got.number(t, "pp"), rel, "pp")
	near(t, want.Cpk, got.number(t, "ppk"), rel, "ppk")
	near(t, want.PPMBelow+want.PPMAbove, got.number(t, "nonconforming_expected")*1e6, 1e-7, "expected")
	if want.Cpm != nil {
		near(t, *want.Cpm, got.number(t, "cpm"), rel, "cpm")
	} else {
		require.NotContains(t, got, "cpm")
	}
	if in.N != nil {
		for i, end := range []string{"_low", "_high"} {
			near(t, want.CpCI[i], got.number(t, "pp"+end), rel, "pp"+end)
			near(t, want.CpkCI[i], got.number(t, "ppk"+end), rel, "ppk"+end)
		}
	}
}

// oneSided: a one-sided bound of 95 % is the end of a two-sided interval of 90.
func oneSided(t *testing.T, c publishedCase) {
	var in struct {
		limitsOf
		Mean, S, Confidence float64
		N                   int
	}
	var want struct {
		Cpk   float64 `json:"Cpk_one_sided_spec"`
		Exact float64 `json:"lower_bound_exact_noncentral_t"`
	}
	c.load(t, &in, &want)
	args := append([]string{"study", "capability", "-", "--confidence", fmt.Sprint(2*in.Confidence - 1)}, in.flags()...)
	got := answerOf(t, csv("v", written(sample(in.N, in.Mean, in.S))), args...)
	near(t, want.Cpk, got.number(t, "ppk"), c.tolerance(t, "relative"), "ppk")
	near(t, want.Exact, got.number(t, "ppk_low"), c.tolerance(t, "exact_bound_relative"), "bound")
	for _, name := range []string{"cp", "pp", "cpm", "cp_low", "pp_high"} {
		require.NotContains(t, got, name)
	}
}

func subgroupCapability(t *testing.T, c publishedCase) {
	var in struct {
		limitsOf
		Subgroups  [][]float64
		Confidence float64
	}
	var want struct {
		Mean    float64
		Within  map[string]struct{ Sigma, Cp, Cpk float64 } `json:"within_by_method"`
		Overall struct {
			S, Pp, Ppk float64
			Cpm        float64 `json:"Cpm_s2_n_minus_1"`
		}
		CI struct {
			Cp  []float64 `json:"Cp_ci_chi_square"`
			Cpk []float64 `json:"Cpk_ci_Bissell"`
		} `json:"overall_ci"`
		Out float64 `json:"observed_ppm_out"`
	}
	c.load(t, &in, &want)
	rel := c.tolerance(t, "relative")
	for name, method := range map[string]string{"range_over_d2": "", "sbar_over_c4": "deviation", "pooled": "pooled", "pooled_over_c4": "pooled-unbiased"} {
		args := append([]string{"study", "capability", "-", "--value", "value", "--subgroup", "subgroup", "--within", method}, in.flags()...)
		got := answerOf(t, rowsOf(in.Subgroups), args...)
		near(t, want.Mean, got.number(t, "mean"), rel, "mean")
		near(t, want.Within[name].Sigma, got.number(t, "sd_within"), rel, name)
		near(t, want.Within[name].Cp, got.number(t, "cp"), rel, "cp")
		near(t, want.Within[name].Cpk, got.number(t, "cpk"), rel, "cpk")
		near(t, want.Overall.S, got.number(t, "sd_overall"), rel, "s")
		near(t, want.Overall.Pp, got.number(t, "pp"), rel, "pp")
		near(t, want.Overall.Ppk, got.number(t, "ppk"), rel, "ppk")
		near(t, want.Overall.Cpm, got.number(t, "cpm"), rel, "cpm")
		for i, end := range []string{"_low", "_high"} {
			near(t, want.CI.Cp[i], got.number(t, "pp"+end), rel, "pp"+end)
			near(t, want.CI.Cpk[i], got.number(t, "ppk"+end), rel, "ppk"+end)
		}
		require.InDelta(t, want.Out, got.number(t, "nonconforming_observed")*1e6, 1e-9)
	}
}

func boxCox(t *testing.T, c publishedCase) {
	var in struct{ Data []float64 }
	var want struct{ Lambda float64 }
	c.load(t, &in, &want)
	got := answerOf(t, csv("v", written(in.Data)), "study", "capability", "-", "--upper", "5000")
	require.InDelta(t, want.Lambda, got.number(t, "box_cox_lambda"), c.tolerance(t, "lambda_absolute"))
}

func gaugeStudy(t *testing.T, c publishedCase) {
	var in struct {
		Readings map[string][][]float64
		Width    float64 `json:"tolerance_width"`
	}
	type spreads struct {
		SD struct {
			Repeatability, Operator, Interaction, GRR, Part, Total float64
		} `json:"sd"`
		Study struct{ GRR float64 } `json:"percent_study_variation"`
		Tol   struct{ GRR float64 } `json:"percent_tolerance_6_sigma"`
		NDC   int
	}
	var want struct {
		Anova *struct {
			P struct{ Interaction float64 } `json:"p_with_interaction"`
		}
		With, Pooled spreads `json:"-"`
		W            spreads `json:"with_interaction"`
		P            spreads `json:"interaction_pooled"`
		EV, AV, GRR  float64
		PV, TV       float64
		NDC          int
		Of           struct{ GRR float64 } `json:"percent_of_TV"`
	}
	c.load(t, &in, &want)
	text := "who,part,reading\n"
	for _, who := range sortedKeys(in.Readings) {
		for _, trial := range in.Readings[who] {
			for part, v := range trial {
				text += fmt.Sprintf("%s,%d,%v\n", who, part+1, v)
			}
		}
	}
	args := []string{"study", "gauge", "-", "--part", "part", "--appraiser", "who", "--value", "reading"}
	if in.Width > 0 {
		args = append(args, "--tolerance", fmt.Sprint(in.Width))
	}
	rel := c.tolerance(t, "relative")
	if want.Anova == nil {
		got := answerOf(t, text, append(args, "--method", "range")...)
		for name, v := range map[string]float64{"ev": want.EV, "av": want.AV, "grr": want.GRR, "pv": want.PV, "tv": want.TV, "grr_percent": want.Of.GRR, "ndc": float64(want.NDC)} {
			near(t, v, got.number(t, name), rel, name)
		}
		for _, name := range []string{"interaction", "interaction_p", "pooled", "ev_low"} {
			require.NotContains(t, got, name)
		}
		return
	}
	got := answerOf(t, text, args...)
	near(t, want.Anova.P.Interaction, got.number(t, "interaction_p"), rel, "p")
	require.Equal(t, want.Anova.P.Interaction > 0.25, got["pooled"])
	right := want.W
	if want.Anova.P.Interaction > 0.25 {
		right = want.P
	}
	compareSpreads := func(got answer, s spreads) {
		for name, v := range map[string]float64{"ev": s.SD.Repeatability, "av": s.SD.Operator, "interaction": s.SD.Interaction, "grr": s.SD.GRR, "pv": s.SD.Part, "tv": s.SD.Total,
			"grr_percent": s.Study.GRR, "ndc": float64(s.NDC)} {
			near(t, v, got.number(t, name), rel, name)
		}
		if in.Width > 0 {
			near(t, s.Tol.GRR, got.number(t, "grr_percent_tolerance"), rel, "of tolerance")
		} else {
			require.NotContains(t, got, "grr_percent_tolerance")
		}
	}
	compareSpreads(got, right)
	compareSpreads(answerOf(t, text, append(args, "--pool", "1")...), want.W)
	compareSpreads(answerOf(t, text, append(args, "--pool", "0")...), want.P)
}

func sortedKeys[V any](m map[string]V) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func strd(t *testing.T, c publishedCase) {
	var in struct {
		Data []float64
		Rule *struct {
			First float64
			Then  []float64 `json:"then_repeat_500_times"`
		} `json:"data_rule"`
	}
	var want struct {
		N    int
		Mean float64
		SD   float64 `json:"sd_n_minus_1"`
		Lag1 float64 `json:"lag1_autocorrelation"`
	}
	c.load(t, &in, &want)
	if in.Rule != nil {
		in.Data = []float64{in.Rule.First}
		for range 500 {
			in.Data = append(in.Data, in.Rule.Then...)
		}
	}
	got := answerOf(t, csv("v", written(in.Data)), "study", "moments", "-", "--value", "v")
	mean, sd := 0.0, 0.0
	var tolerance map[string]float64
	require.NoError(t, json.Unmarshal(c.Tolerance, &tolerance))
	if r, ok := tolerance["relative"]; ok {
		mean, sd = r, r
	} else {
		mean, sd = tolerance["mean_relative"], tolerance["sd_relative"]
	}
	require.EqualValues(t, want.N, got.number(t, "n"))
	near(t, want.Mean, got.number(t, "mean"), mean, "mean")
	near(t, want.SD, got.number(t, "sd"), sd, "sd")
	near(t, want.Lag1, got.number(t, "lag1_autocorrelation"), max(sd, 1e-10), "autocorrelation")
}

func normal(t *testing.T, c publishedCase) {
	var in struct{ Data []float64 }
	var want struct {
		N  int
		A2 float64 `json:"anderson_darling_A2"`
		AP float64 `json:"anderson_darling_p"`
		W  float64 `json:"shapiro_wilk_W"`
		WP float64 `json:"shapiro_wilk_p"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, csv("v", written(in.Data)), "study", "capability", "-", "--upper", "1e6")
	require.EqualValues(t, want.N, got.number(t, "n"))
	near(t, want.A2, got.number(t, "anderson_darling"), c.tolerance(t, "statistic_relative"), "A2")
	near(t, want.AP, got.number(t, "anderson_darling_p"), c.tolerance(t, "p_relative"), "p")
	require.InDelta(t, want.W, got.number(t, "shapiro_wilk"), c.tolerance(t, "shapiro_wilk_W_absolute"))
	require.InDelta(t, want.WP, got.number(t, "shapiro_wilk_p"), c.tolerance(t, "shapiro_wilk_p_absolute"))
}

func precipitation(t *testing.T, c publishedCase) {
	var in struct{ Data []float64 }
	var want map[string]any
	c.load(t, &in, &want)
	got := answerOf(t, csv("v", written(in.Data)), "study", "moments", "-")
	for theirs, ours := range map[string]string{"n": "n", "mean": "mean", "sd": "sd", "min": "min", "max": "max",
		"skewness_G1": "skewness", "excess_kurtosis_G2": "kurtosis", "skewness_g1": "skewness_g1", "excess_kurtosis_g2": "kurtosis_g2"} {
		near(t, want[theirs].(float64), got.number(t, ours), c.tolerance(t, "relative"), ours)
	}
}

func intervals(t *testing.T, c publishedCase) {
	var in struct {
		X, N       int
		Confidence float64
	}
	var want struct {
		Estimate float64
		Clopper  []float64 `json:"clopper_pearson"`
		Wilson   []float64
		Jeffreys []float64
		Upper    float64 `json:"upper_one_sided_clopper_pearson"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, "", "study", "proportion", "--bad", fmt.Sprint(in.X), "--n", fmt.Sprint(in.N), "--confidence", fmt.Sprint(in.Confidence))
	abs := c.tolerance(t, "absolute")
	require.InDelta(t, want.Estimate, got.number(t, "estimate"), abs)
	require.InDelta(t, want.Upper, got.number(t, "upper_bound"), abs)
	for name, ends := range map[string][]float64{"clopper_pearson": want.Clopper, "wilson": want.Wilson, "jeffreys": want.Jeffreys} {
		require.InDeltaSlice(t, ends, got.numbers(t, name), abs, name)
	}
}

// twoSamples are a case of two samples.
type twoSamples struct {
	X, Y   []float64
	Margin float64 `json:"equivalence_margin"`
}

// text holds both samples, told apart by a column.
func (s twoSamples) text() string {
	var who []string
	for i := range len(s.X) + len(s.Y) {
		if i < len(s.X) {
			who = append(who, "x")
		} else {
			who = append(who, "y")
		}
	}
	return csv("who,v", who, written(append(slices.Clone(s.X), s.Y...)))
}

func means(t *testing.T, c publishedCase) {
	var in twoSamples
	var want struct {
		MeanX float64 `json:"mean_x"`
		MeanY float64 `json:"mean_y"`
		Welch struct {
			T, DF, P float64
			CI       []float64 `json:"ci95"`
		}
		F    float64 `json:"variance_ratio_F"`
		FP   float64 `json:"variance_ratio_p"`
		TOST struct {
			P     float64
			Equal bool `json:"equivalent_at_0.05"`
		} `json:"tost_welch"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, in.text(), "study", "compare", "-", "--between", "who", "--value", "v", "--margin", fmt.Sprint(in.Margin))
	rel, p := c.tolerance(t, "relative"), c.tolerance(t, "p_value_relative")
	near(t, want.MeanX-want.MeanY, got.number(t, "mean_difference"), rel, "difference")
	near(t, want.Welch.CI[0], got.number(t, "mean_difference_low"), rel, "low")
	near(t, want.Welch.CI[1], got.number(t, "mean_difference_high"), rel, "high")
	near(t, want.Welch.T, got.number(t, "welch_t"), rel, "t")
	near(t, want.Welch.DF, got.number(t, "welch_df"), rel, "df")
	near(t, want.Welch.P, got.number(t, "welch_p"), p, "p")
	near(t, want.F, got.number(t, "variance_ratio"), rel, "F")
	near(t, want.FP, got.number(t, "variance_ratio_p"), p, "p of F")
	near(t, want.TOST.P, got.number(t, "equivalence_p"), p, "p of equivalence")
	require.Equal(t, want.TOST.Equal, got["equivalent"])
}

func ranks(t *testing.T, c publishedCase) {
	var in twoSamples
	var want struct {
		W       float64  `json:"W_statistic_of_x"`
		Exact   *float64 `json:"exact_p_two_sided"`
		Normal  float64  `json:"normal_p_two_sided_continuity_corrected"`
		D       float64  `json:"ks_D"`
		KSExact *float64 `json:"ks_p_exact"`
		KS      float64  `json:"ks_p_asymptotic"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, in.text(), "study", "compare", "-", "--between", "who", "--value", "v")
	rel := c.tolerance(t, "relative")
	near(t, want.W, got.number(t, "mann_whitney_u"), rel, "U")
	near(t, want.D, got.number(t, "ks_d"), rel, "D")
	p, ks := want.Normal, want.KS
	if want.Exact != nil {
		p, ks = *want.Exact, *want.KSExact
	}
	near(t, p, got.number(t, "mann_whitney_p"), rel, "p of U")
	near(t, ks, got.number(t, "ks_p"), rel, "p of D")
	require.NotContains(t, got, "equivalent")
}

func factors(t *testing.T, c publishedCase) {
	var in struct {
		P, Confidence float64
		N             []int
	}
	var want struct {
		One []float64 `json:"k_one_sided_exact"`
		Two []float64 `json:"k_two_sided_exact"`
	}
	c.load(t, &in, &want)
	for i, n := range in.N {
		for sides, k := range map[string]float64{"1": want.One[i], "2": want.Two[i]} {
			near(t, k, factorOf(t, n, in.P, in.Confidence, sides), c.tolerance(t, "exact_relative"), "factor")
		}
	}
}

func factorOf(t *testing.T, n int, coverage, confidence float64, sides string) float64 {
	return answerOf(t, "", "study", "tolerance", "--n", fmt.Sprint(n), "--coverage", fmt.Sprint(coverage), "--confidence", fmt.Sprint(confidence), "--sides", sides).number(t, "factor")
}

func factorExample(t *testing.T, c publishedCase) {
	var in struct {
		N             int
		P, Confidence float64
	}
	var want struct {
		One float64 `json:"k_one_sided_exact"`
		Two float64 `json:"k_two_sided_exact"`
	}
	c.load(t, &in, &want)
	near(t, want.One, factorOf(t, in.N, in.P, in.Confidence, "1"), c.tolerance(t, "relative"), "one side")
	near(t, want.Two, factorOf(t, in.N, in.P, in.Confidence, "2"), c.tolerance(t, "relative"), "two sides")
}

func distributionFree(t *testing.T, c publishedCase) {
	var in struct{ P, Confidence float64 }
	var want struct {
		One int `json:"n_one_sided_extreme_value"`
		Two int `json:"n_two_sided_min_max"`
	}
	c.load(t, &in, &want)
	for sides, n := range map[string]int{"1": want.One, "2": want.Two} {
		got := answerOf(t, "", "study", "tolerance", "--n", "10", "--coverage", fmt.Sprint(in.P), "--confidence", fmt.Sprint(in.Confidence), "--sides", sides)
		require.EqualValues(t, n, got.number(t, "least_n"))
	}
	require.False(t, math.IsNaN(in.P))
}
