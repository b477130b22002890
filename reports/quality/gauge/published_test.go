package gauge

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/internal/published"
)

// studyOf reads a study: appraiser -> list of trials -> readings of parts.
func studyOf(t *testing.T, c published.Case) (s Study, width float64) {
	var in struct {
		Readings map[string][][]float64
		Width    float64 `json:"tolerance_width"`
	}
	published.Load(t, c.Input, &in)
	var names []string
	for name := range in.Readings {
		names = append(names, name)
	}
	slices.Sort(names)
	var readings []Reading
	for _, name := range names {
		for _, trial := range in.Readings[name] {
			for part, v := range trial {
				readings = append(readings, Reading{fmt.Sprint("part ", part), name, v})
			}
		}
	}
	s, err := Arrange(readings)
	require.NoError(t, err)
	return s, in.Width
}

// block is the result with or without the interaction pooled.
type block struct {
	SD           map[string]float64 `json:"sd"`
	Contribution map[string]float64 `json:"percent_contribution"`
	Variation    map[string]float64 `json:"percent_study_variation"`
	Tolerance    map[string]float64 `json:"percent_tolerance_6_sigma"`
	Exact        float64            `json:"ndc_unrounded"`
	NDC          int                `json:"ndc"`
}

func byName(c Components) map[string]float64 {
	return map[string]float64{"repeatability": c.EV, "operator": c.AV, "interaction": c.Interaction,
		"reproducibility": c.Reproducibility(), "GRR": c.GRR, "part": c.PV, "total": c.TV}
}

func (b block) check(t *testing.T, got Components, width, rel float64) {
	t.Helper()
	all := func(want, got map[string]float64, what string) {
		for name, w := range want {
			published.Relative(t, w, got[name], rel, what+" "+name)
		}
	}
	require.Len(t, b.SD, 7)
	all(b.SD, byName(got), "sd")
	all(b.Variation, byName(got.Scaled(got.TV)), "% of study variation")
	published.Relative(t, b.Variation["GRR"], got.GRRPercent(), rel, "%GRR")
	share := byName(got.Scaled(got.TV))
	for name, v := range share {
		share[name] = v * v / 100
	}
	all(b.Contribution, share, "% contribution")
	if width > 0 {
		all(b.Tolerance, byName(got.Scaled(width/6)), "% of tolerance")
		published.Relative(t, b.Tolerance["GRR"], got.GRRPercentTolerance(width), rel, "%GRR of tolerance")
	}
	whole, exact := got.NDC()
	require.Equal(t, b.NDC, whole)
	published.Relative(t, b.Exact, exact, rel, "ndc")
}

func TestPublishedAnova(t *testing.T) {
	ran := 0
	for _, c := range published.Read(t, "../testdata", "04", "") {
		if !strings.HasSuffix(c.ID, "_anova") {
			continue
		}
		ran++
		t.Run(c.ID, func(t *testing.T) { checkAnova(t, c) })
	}
	require.Equal(t, 5, ran)
}

func checkAnova(t *testing.T, c published.Case) {
	var want struct {
		Anova struct {
			SS, DF, MS map[string]float64
			F          map[string]float64 `json:"F_with_interaction"`
			P          map[string]float64 `json:"p_with_interaction"`
		}
		With      block   `json:"with_interaction"`
		Pooled    block   `json:"interaction_pooled"`
		Threshold float64 `json:"pool_interaction_if_p_above"`
		IsPooled  bool    `json:"interaction_is_pooled"`
	}
	published.Load(t, c.Expect, &want)
	rel := c.Named(t, "relative")
	s, width := studyOf(t, c)
	got := s.Analyze(want.Threshold, 0.95)
	require.Equal(t, want.IsPooled, got.Pooled, c.Source)
	for name, line := range map[string]Source{"part": got.Table.Part, "operator": got.Table.Appraiser,
		"interaction": got.Table.Interaction, "repeatability": got.Table.Repeatability, "total": got.Table.Total} {
		published.Relative(t, want.Anova.SS[name], line.SS, rel, "SS "+name)
		require.Equal(t, want.Anova.DF[name], line.DF, name)
		if name == "repeatability" || name == "total" {
			require.True(t, math.IsNaN(line.P))
			continue
		}
		published.Relative(t, want.Anova.MS[name], line.MS, rel, "MS "+name)
		published.Relative(t, want.Anova.F[name], line.F, rel, "F "+name)
		published.Relative(t, want.Anova.P[name], line.P, rel, "p "+name)
	}
	published.Relative(t, want.Anova.P["interaction"], got.InteractionP(), rel, "p of the interaction")
	want.With.check(t, s.Analyze(1, 0.95).Components, width, rel)
	want.Pooled.check(t, s.Analyze(0, 0.95).Components, width, rel)
}

func TestPublishedAverageRange(t *testing.T) {
	ran := 0
	for _, c := range published.Read(t, "../testdata", "04", "") {
		if !strings.HasSuffix(c.ID, "_average_range") {
			continue
		}
		ran++
		t.Run(c.ID, func(t *testing.T) { checkRanges(t, c) })
	}
	require.Equal(t, 4, ran)
}

func checkRanges(t *testing.T, c published.Case) {
	var want struct {
		R                   float64 `json:"R_double_bar"`
		X                   float64 `json:"X_diff"`
		Part                float64 `json:"R_part"`
		K1, K2, K3          float64
		UCL                 float64 `json:"UCL_R"`
		EV, AV, GRR, PV, TV float64
		Percent             map[string]float64 `json:"percent_of_TV"`
		Exact               float64            `json:"ndc_unrounded"`
		NDC                 int
		Tolerance           float64 `json:"percent_tolerance_6_sigma"`
	}
	published.Load(t, c.Expect, &want)
	rel := c.Named(t, "relative")
	s, width := studyOf(t, c)
	got := s.AverageRange()
	require.Equal(t, []float64{want.K1, want.K2, want.K3}, []float64{got.K1, got.K2, got.K3})
	for name, pair := range map[string][2]float64{
		"mean range": {want.R, got.MeanRange}, "spread of means": {want.X, got.Spread}, "part range": {want.Part, got.PartRange},
		"range limit": {want.UCL, got.UpperRangeLimit}, "EV": {want.EV, got.EV}, "AV": {want.AV, got.AV},
		"GRR": {want.GRR, got.GRR}, "PV": {want.PV, got.PV}, "TV": {want.TV, got.TV},
		"%EV": {want.Percent["EV"], got.Scaled(got.TV).EV}, "%PV": {want.Percent["PV"], got.Scaled(got.TV).PV},
		"%AV": {want.Percent["AV"], got.Scaled(got.TV).AV}, "%GRR": {want.Percent["GRR"], got.GRRPercent()},
	} {
		published.Relative(t, pair[0], pair[1], rel, name)
	}
	whole, exact := got.NDC()
	require.Equal(t, want.NDC, whole)
	published.Relative(t, want.Exact, exact, rel, "ndc")
	if width > 0 {
		published.Relative(t, want.Tolerance, got.GRRPercentTolerance(width), rel, "% of tolerance")
	}
}

// TestPublishedFactors: K1, K2 and K3 are not verified against a printed copy
// but for K1, K2 of 3 and K3 of 10.
func TestPublishedFactors(t *testing.T) {
	published.Each(t, "04", "average_range_constants", func(t *testing.T, c published.Case) {
		var want struct{ K1, K2, K3 map[string]float64 }
		published.Load(t, c.Expect, &want)
		n := 0
		each := func(table map[string]float64, f func(int) float64) {
			for key, k := range table {
				var size int
				require.NoError(t, json.Unmarshal([]byte(key), &size))
				require.Equal(t, k, f(size), "factor of %d", size)
				n++
			}
		}
		each(want.K1, K1)
		each(want.K2, K3)
		each(want.K3, K3)
		require.Equal(t, 13, n)
	})
}

func TestPublishedLinearity(t *testing.T) {
	for _, prefix := range []string{"aiag_linearity_", "simulated_linearity_"} {
		published.Each(t, "04", prefix, func(t *testing.T, c published.Case) {
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
			published.Load(t, c.Input, &in)
			published.Load(t, c.Expect, &want)
			rel := c.Named(t, "relative")
			got, err := Linearity(in.Reference, in.Readings, 0.95)
			require.NoError(t, err)
			for name, pair := range map[string][2]float64{
				"slope": {want.Slope, got.Slope.Value}, "intercept": {want.Intercept, got.Intercept.Value}, "s": {want.S, got.Residual},
				"R2": {want.R2, got.R2}, "t slope": {want.TSlope, got.Slope.T}, "t intercept": {want.TIntercept, got.Intercept.T},
				"p slope": {want.PSlope, got.Slope.P}, "p intercept": {want.PIntercept, got.Intercept.P},
			} {
				published.Relative(t, pair[0], pair[1], rel, name)
			}
			for i := range in.Reference {
				published.Relative(t, want.Bias[i], got.Offsets[i].Bias, rel, "bias")
				published.Relative(t, want.T[i], got.Offsets[i].T, rel, "t")
				published.Relative(t, want.P[i], got.Offsets[i].P, rel, "p")
				published.Relative(t, want.Bands[i][0], got.Bands[i].Low, rel, "band low")
				published.Relative(t, want.Bands[i][1], got.Bands[i].High, rel, "band high")
			}
		})
	}
}

func TestPublishedBias(t *testing.T) {
	for _, prefix := range []string{"aiag_bias_", "simulated_bias_"} {
		published.Each(t, "04", prefix, func(t *testing.T, c published.Case) {
			var in struct {
				Readings  []float64
				Reference float64
			}
			var want struct {
				Bias, S, SE, T, DF, P float64
				CI                    [2]float64 `json:"ci95_bias"`
			}
			published.Load(t, c.Input, &in)
			published.Load(t, c.Expect, &want)
			rel := c.Named(t, "relative")
			got, err := Bias(in.Readings, in.Reference, 0.95)
			require.NoError(t, err)
			require.Equal(t, want.DF, got.DF)
			for name, pair := range map[string][2]float64{"bias": {want.Bias, got.Bias}, "s": {want.S, got.SD}, "se": {want.SE, got.SE},
				"t": {want.T, got.T}, "p": {want.P, got.P}, "low": {want.CI[0], got.Low}, "high": {want.CI[1], got.High}} {
				published.Relative(t, pair[0], pair[1], rel, name)
			}
		})
	}
}

// TestPublishedAgreement: the counts of the two AIAG tables are from memory;
// their kappas round to the printed ones.
func TestPublishedAgreement(t *testing.T) {
	published.Each(t, "04", "attribute_agreement_", func(t *testing.T, c published.Case) {
		var in struct {
			Table [][]int `json:"crosstab_rows_rater1_columns_rater2"`
		}
		var want struct {
			Observed float64 `json:"observed_agreement"`
			Chance   float64 `json:"chance_agreement"`
			Kappa    float64 `json:"cohen_kappa"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		got, err := Cohen(in.Table, 0.95)
		require.NoError(t, err)
		published.Relative(t, want.Observed, got.Observed, rel, "observed")
		published.Relative(t, want.Chance, got.Chance, rel, "chance")
		published.Relative(t, want.Kappa, got.Kappa, rel, "kappa")
		require.True(t, got.Contains(got.Kappa))
	})
}

func TestPublishedPooling(t *testing.T) {
	published.Each(t, "04", "nist_gauge_level1", func(t *testing.T, c published.Case) {
		var in struct {
			Squares []float64 `json:"standard_deviations"` // they are sums of squares, as the case says
		}
		var want struct {
			DF, S1 float64
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		sd, df := Pool(in.Squares, 60)
		require.Equal(t, want.DF, df)
		published.Absolute(t, want.S1, sd, c.Named(t, "absolute"), "s1")
	})
}
