package statistics

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func xbar(t *testing.T, c publishedCase) {
	var in struct{ Subgroups [][]float64 }
	type limits struct{ LCL, CL, UCL float64 }
	var want struct {
		FromR  limits    `json:"xbar_chart_from_R"`
		R      limits    `json:"R_chart"`
		FromS  limits    `json:"xbar_chart_from_s"`
		S      limits    `json:"s_chart"`
		SigmaR float64   `json:"sigma_from_R"`
		SigmaS float64   `json:"sigma_from_s"`
		Means  []float64 `json:"subgroup_means"`
	}
	c.load(t, &in, &want)
	rel := c.tolerance(t, "relative")
	for kind, w := range map[string]struct {
		main, spread limits
		sigma        float64
	}{"xbar-r": {want.FromR, want.R, want.SigmaR}, "xbar-s": {want.FromS, want.S, want.SigmaS}} {
		got := answerOf(t, rowsOf(in.Subgroups), "study", "chart", "-", "--kind", kind, "--subgroup", "subgroup", "--value", "value")
		for name, v := range map[string]float64{"centre": w.main.CL, "lower": w.main.LCL, "upper": w.main.UCL, "spread_centre": w.spread.CL,
			"spread_lower": w.spread.LCL, "spread_upper": w.spread.UCL, "sigma": w.sigma} {
			near(t, v, got.number(t, name), rel, kind+" "+name)
		}
		for i, p := range got.list(t, "points") {
			require.EqualValues(t, i+1, p.number(t, "index"))
			near(t, want.Means[i], p.number(t, "value"), rel, "mean")
			near(t, w.main.LCL, p.number(t, "lower"), rel, "lower")
			near(t, w.main.UCL, p.number(t, "upper"), rel, "upper")
		}
	}
}

// phase2: limits from the subgroups of phase 1, then new ones.
func phase2(t *testing.T, c publishedCase) {
	var in struct {
		New [][]float64 `json:"new_subgroups"`
	}
	var want struct {
		Means []float64
		Out   []float64 `json:"beyond_limits_positions"`
	}
	c.load(t, &in, &want)
	var first struct{ Subgroups [][]float64 }
	for _, other := range examples(t, "05") {
		if other.ID == "xbar_R_S_pistonrings_phase1" {
			require.NoError(t, json.Unmarshal(other.Input, &first))
		}
	}
	all := append(first.Subgroups, in.New...)
	args := []string{"study", "chart", "-", "--kind", "xbar-r", "--subgroup", "subgroup", "--value", "value", "--phase1", fmt.Sprint(len(first.Subgroups))}
	got := answerOf(t, rowsOf(all), args...)
	points := got.list(t, "points")
	for i, m := range want.Means {
		require.InDelta(t, m, points[len(first.Subgroups)+i].number(t, "value"), c.tolerance(t, "absolute"))
	}
	require.Equal(t, want.Out, got.numbers(t, "out"))
	require.ErrorIs(t, drive(t, rowsOf(all), append(args, "--judge")...).err, ErrNegative)
	// The same limits, given as numbers.
	fixed := []string{"study", "chart", "-", "--kind", "xbar-r", "--subgroup", "subgroup", "--value", "value",
		"--target", fmt.Sprint(got.number(t, "centre")), "--sigma", fmt.Sprint(got.number(t, "sigma"))}
	require.Equal(t, got["points"], answerOf(t, rowsOf(all), fixed...)["points"])
}

func individuals(t *testing.T, c publishedCase) {
	var in struct{ X []float64 }
	var want struct {
		Mean, Sigma, LCL, UCL float64
		MR                    float64 `json:"MR_bar"`
		MRUCL                 float64 `json:"MR_UCL"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, csv("x", written(in.X)), "study", "chart", "-", "--kind", "individuals")
	rel := c.tolerance(t, "relative")
	for name, v := range map[string]float64{"centre": want.Mean, "sigma": want.Sigma, "lower": want.LCL, "upper": want.UCL, "spread_centre": want.MR, "spread_upper": want.MRUCL} {
		near(t, v, got.number(t, name), rel, name)
	}
	require.Len(t, got.list(t, "spread_points"), len(in.X)-1)
}

func ewma(t *testing.T, c publishedCase) {
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
	}
	c.load(t, &in, &want)
	got := answerOf(t, csv("x", written(in.X)), "study", "chart", "-", "--kind", "ewma", "--target", fmt.Sprint(in.Target), "--sigma", fmt.Sprint(in.Sigma),
		"--weight", fmt.Sprint(in.Lambda), "--width", fmt.Sprint(in.L))
	abs := c.tolerance(t, "absolute")
	require.InDelta(t, want.High, got.number(t, "upper"), abs)
	require.InDelta(t, want.Low, got.number(t, "lower"), abs)
	for i, p := range got.list(t, "points") {
		require.InDelta(t, want.Ewma[i], p.number(t, "value"), abs)
		require.InDelta(t, want.UCL[i], p.number(t, "upper"), abs)
		require.InDelta(t, want.LCL[i], p.number(t, "lower"), abs)
	}
	require.Empty(t, got["out"])
}

func cusum(t *testing.T, c publishedCase) {
	var in struct {
		X            []float64
		Target, K, H float64
	}
	var want struct {
		High  []float64 `json:"S_hi"`
		Low   []float64 `json:"S_lo"`
		Sum   []float64 `json:"cusum"`
		First float64   `json:"first_signal_hi"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, csv("x", written(in.X)), "study", "chart", "-", "--kind", "cusum", "--target", fmt.Sprint(in.Target),
		"--slack", fmt.Sprint(in.K), "--decision", fmt.Sprint(in.H))
	abs := c.tolerance(t, "absolute")
	for i, p := range got.list(t, "points") {
		require.InDelta(t, want.High[i], p.number(t, "high"), abs)
		require.InDelta(t, want.Low[i], p.number(t, "low"), abs)
		require.InDelta(t, want.Sum[i], p.number(t, "sum"), abs)
	}
	require.Equal(t, want.First, got.numbers(t, "out")[0])
	near(t, in.H, got.number(t, "upper"), 1e-15, "decision")
}

func counts(t *testing.T, c publishedCase) {
	var in struct{ Counts, Nonconforming, N []float64 }
	var want struct {
		Center   float64
		LCL, UCL json.RawMessage
		Out      []float64
	}
	c.load(t, &in, &want)
	bad := append(in.Counts, in.Nonconforming...)
	kind, _, _ := strings.Cut(c.ID, "_")
	text, args := csv("bad", written(bad)), []string{"study", "chart", "-", "--kind", kind, "--value", "bad"}
	if len(in.N) > 0 {
		text, args = csv("bad,tested", written(bad), written(in.N)), append(args, "--size", "tested")
	}
	got := answerOf(t, text, args...)
	rel := c.tolerance(t, "relative")
	near(t, want.Center, got.number(t, "centre"), rel, "centre")
	lower, upper := each(t, want.LCL, len(bad)), each(t, want.UCL, len(bad))
	for i, p := range got.list(t, "points") {
		near(t, lower[i], p.number(t, "lower"), rel, "lower")
		near(t, upper[i], p.number(t, "upper"), rel, "upper")
	}
	slices.Sort(want.Out)
	require.Equal(t, append([]float64{}, want.Out...), got.numbers(t, "out"))
}

// each reads one number for all points, or one for each.
func each(t *testing.T, raw json.RawMessage, n int) []float64 {
	var list []float64
	if json.Unmarshal(raw, &list) == nil {
		return list
	}
	var one float64
	require.NoError(t, json.Unmarshal(raw, &one))
	return slices.Repeat([]float64{one}, n)
}

// rules: standardized points on a chart with centre 0 and sigma 1.
func rules(t *testing.T, c publishedCase) {
	var in struct{ Z []float64 }
	var want map[string]map[string][]float64
	c.load(t, &in, &want)
	names := map[string]string{
		"rule1_one_beyond_3_sigma": "beyond-limits", "rule2_two_of_3_beyond_2_sigma_same_side": "two-of-three",
		"rule3_four_of_5_beyond_1_sigma_same_side": "four-of-five", "rule4_eight_in_a_row_same_side": "eight-on-one-side",
		"test1_beyond_3_sigma": "beyond-limits", "test2_nine_same_side": "nine-on-one-side", "test3_six_steadily_up_or_down": "six-steady",
		"test4_fourteen_alternating": "fourteen-alternating", "test5_two_of_3_beyond_2_sigma": "two-of-three",
		"test6_four_of_5_beyond_1_sigma": "four-of-five", "test7_fifteen_within_1_sigma": "fifteen-within", "test8_eight_beyond_1_sigma_either_side": "eight-beyond",
	}
	for theirs, set := range map[string]string{"western_electric": "western-electric", "nelson": "nelson"} {
		got := answerOf(t, csv("z", written(in.Z)), "study", "chart", "-", "--kind", "individuals", "--target", "0", "--sigma", "1", "--rules", set)
		found := map[string][]float64{}
		for _, p := range got.list(t, "points") {
			for _, name := range p["violations"].([]any) {
				found[name.(string)] = append(found[name.(string)], p.number(t, "index"))
			}
		}
		for long, places := range want[theirs] {
			require.NotEmpty(t, names[long], long)
			require.ElementsMatch(t, places, found[names[long]], long)
			delete(found, names[long])
		}
		require.Empty(t, found, "no other rule is reported")
	}
}

// runLengths: the answer tells the mean number of points to a false alarm.
func runLengths(t *testing.T, c publishedCase) {
	var in struct {
		Limit, K, H, Lambda, L float64
		Rules                  json.RawMessage
	}
	var want struct{ ARL []float64 }
	c.load(t, &in, &want)
	args := []string{"study", "chart", "-", "--kind", "individuals", "--target", "0", "--sigma", "1"}
	switch {
	case in.H > 0:
		args = []string{"study", "chart", "-", "--kind", "cusum", "--target", "0", "--sigma", "1", "--slack", fmt.Sprint(in.K), "--decision", fmt.Sprint(in.H)}
	case in.Lambda > 0:
		args = []string{"study", "chart", "-", "--kind", "ewma", "--target", "0", "--sigma", "1", "--weight", fmt.Sprint(in.Lambda), "--width", fmt.Sprint(in.L)}
	case in.Limit == 0:
		var list []string
		for _, n := range each(t, in.Rules, 1) {
			list = append(list, []string{"beyond-limits", "two-of-three", "four-of-five", "eight-on-one-side"}[int(n)-1])
		}
		args = append(args, "--rules", strings.Join(list, ","))
	}
	got := answerOf(t, "z\n0.1\n-0.2\n0.3\n", args...)
	near(t, want.ARL[0], got.number(t, "run_length"), c.tolerance(t, "relative"), "run length")
}
