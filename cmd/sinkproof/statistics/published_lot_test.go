package statistics

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func lookup(t *testing.T, c publishedCase) {
	var in struct {
		Lot        int    `json:"lot_size"`
		Level      string `json:"inspection_level"`
		Inspection string
		AQL        float64 `json:"AQL_percent"`
	}
	var want struct {
		Code      string `json:"code_letter_from_table"`
		Letter    string `json:"plan_letter"`
		N, Ac, Re float64
		All       bool `json:"inspect_all"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, "", "lot", "plan", "--size", fmt.Sprint(in.Lot), "--level", in.Level, "--aql", fmt.Sprint(in.AQL), "--severity", in.Inspection)
	require.Equal(t, answer{"code_letter": want.Code, "plan_letter": want.Letter, "sample_size": want.N, "accept": want.Ac, "reject": want.Re, "all": want.All}, got)
}

// masterTable follows every cell of the table by lots of its letter; level II
// reaches the letters A to Q, level III R.
func masterTable(t *testing.T, c publishedCase) {
	lots := map[string][2]string{"A": {"8", "II"}, "B": {"15", "II"}, "C": {"25", "II"}, "D": {"50", "II"}, "E": {"90", "II"}, "F": {"150", "II"}, "G": {"280", "II"},
		"H": {"500", "II"}, "J": {"1200", "II"}, "K": {"3200", "II"}, "L": {"10000", "II"}, "M": {"35000", "II"}, "N": {"150000", "II"}, "P": {"500000", "II"},
		"Q": {"1000000", "II"}, "R": {"1000000", "III"}}
	var in struct {
		Inspection string
		AQL        []float64 `json:"AQL_columns"`
	}
	var want struct {
		Sizes map[string]int   `json:"sample_size"`
		Cells map[string][]any `json:"Ac_or_arrow"`
	}
	c.load(t, &in, &want)
	for letter, lot := range lots {
		for i, aql := range in.AQL {
			accept, ok := want.Cells[letter][i].(float64)
			if !ok {
				continue // an arrow: the lookups follow some of them
			}
			got := answerOf(t, "", "lot", "plan", "--size", lot[0], "--level", lot[1], "--aql", fmt.Sprint(aql), "--severity", in.Inspection)
			require.Equal(t, letter, got["code_letter"])
			require.Equal(t, letter, got["plan_letter"])
			require.Equal(t, accept, got["accept"])
			size, err := strconv.Atoi(lot[0])
			require.NoError(t, err)
			require.EqualValues(t, min(want.Sizes[letter], size), got["sample_size"])
		}
	}
}

func letters(t *testing.T, c publishedCase) {
	var in struct{}
	var want struct {
		From   []int  `json:"lot_size_from"`
		To     []*int `json:"lot_size_to"`
		Levels map[string][]string
	}
	c.load(t, &in, &want)
	for level, list := range want.Levels {
		for i, letter := range list {
			sizes := []int{want.From[i]}
			if want.To[i] != nil {
				sizes = append(sizes, *want.To[i])
			}
			for _, size := range sizes {
				got := answerOf(t, "", "lot", "plan", "--size", fmt.Sprint(size), "--level", level, "--aql", "10")
				require.Equal(t, letter, got["code_letter"], "lot of %d, level %s", size, level)
			}
		}
	}
}

// oc: the law is the one for the lot where its size is known.
func oc(t *testing.T, c publishedCase) {
	var in struct {
		N, Ac int
		P     []float64
		Lot   *int `json:"lot_size"`
	}
	var want struct {
		Binomial       []float64 `json:"Pa_binomial"`
		Poisson        []float64 `json:"Pa_poisson"`
		Hypergeometric []float64 `json:"Pa_hypergeometric"`
	}
	c.load(t, &in, &want)
	args := []string{"lot", "curve", "--sample-size", fmt.Sprint(in.N), "--accept", fmt.Sprint(in.Ac), "--at", strings.Join(written(in.P), ",")}
	laws := map[string][]float64{"": want.Binomial, "binomial": want.Binomial, "poisson": want.Poisson}
	if in.Lot != nil {
		args = append(args, "--size", fmt.Sprint(*in.Lot))
		laws[""], laws["hypergeometric"] = want.Hypergeometric, want.Hypergeometric
	}
	for law, chances := range laws {
		got := answerOf(t, "", append(args, "--distribution", law)...)
		points := got.list(t, "points")
		require.Len(t, points, len(in.P))
		for i, p := range points {
			require.Equal(t, in.P[i], p.number(t, "fraction"))
			near(t, chances[i], p.number(t, "accept_probability"), c.tolerance(t, "relative"), law)
		}
	}
}

func aoq(t *testing.T, c publishedCase) {
	var in struct {
		Lot   int `json:"lot_size"`
		N, Ac int
		P     []float64
	}
	var want struct {
		AOQ, ATI []float64
		AOQL     float64
		At       float64 `json:"AOQL_at_p"`
	}
	c.load(t, &in, &want)
	got := answerOf(t, "", "lot", "curve", "--sample-size", fmt.Sprint(in.N), "--accept", fmt.Sprint(in.Ac), "--size", fmt.Sprint(in.Lot), "--at", strings.Join(written(in.P), ","))
	rel := c.tolerance(t, "relative")
	for i, p := range got.list(t, "points") {
		near(t, want.AOQ[i], p.number(t, "aoq"), rel, "outgoing quality")
		near(t, want.ATI[i], p.number(t, "ati"), rel, "tested")
	}
	near(t, want.AOQL, got.number(t, "aoql"), rel, "worst outgoing quality")
	require.InDelta(t, want.At, got.number(t, "aoql_at"), c.tolerance(t, "AOQL_at_p_absolute"))
}

func qualityLevels(t *testing.T, c publishedCase) {
	var in struct{ N, Ac int }
	var want map[string]float64
	c.load(t, &in, &want)
	got := answerOf(t, "", "lot", "curve", "--sample-size", fmt.Sprint(in.N), "--accept", fmt.Sprint(in.Ac))
	for theirs, ours := range map[string]string{"p_at_Pa_0.95": "quality_at_95", "p_at_Pa_0.50": "quality_at_50", "p_at_Pa_0.10": "quality_at_10"} {
		near(t, want[theirs], got.number(t, ours), c.tolerance(t, "relative"), ours)
	}
}

func findPlan(t *testing.T, c publishedCase) {
	var in struct {
		AQL, Alpha, RQL, Beta json.Number
		Distribution          string
		Lot                   *int `json:"lot_size"`
	}
	var want struct {
		N, Ac float64
		PaAQL float64 `json:"Pa_AQL"`
		PaRQL float64 `json:"Pa_RQL"`
	}
	c.load(t, &in, &want)
	args := []string{"lot", "plan", "--producer-quality", in.AQL.String(), "--producer-risk", in.Alpha.String(),
		"--consumer-quality", in.RQL.String(), "--consumer-risk", in.Beta.String(), "--distribution", in.Distribution}
	if in.Lot != nil {
		args = append(args, "--size", fmt.Sprint(*in.Lot))
	}
	got := answerOf(t, "", args...)
	require.Equal(t, want.N, got["sample_size"])
	require.Equal(t, want.Ac, got["accept"])
	abs := c.tolerance(t, "Pa_absolute")
	require.InDelta(t, 1-want.PaAQL, got.number(t, "producer_risk"), abs)
	require.InDelta(t, want.PaRQL, got.number(t, "consumer_risk"), abs)
}

func double(t *testing.T, c publishedCase) {
	var in struct {
		N1, Ac1, Re1, N2, Ac2, Re2 int
		P                          []float64
	}
	var want struct {
		Pa    []float64
		First []float64 `json:"Pa_first_stage"`
		ASN   []float64 `json:"average_sample_number"`
	}
	c.load(t, &in, &want)
	args := []string{"lot", "double", "--first-size", fmt.Sprint(in.N1), "--first-accept", fmt.Sprint(in.Ac1),
		"--second-size", fmt.Sprint(in.N2), "--second-accept", fmt.Sprint(in.Ac2), "--at", strings.Join(written(in.P), ",")}
	got := answerOf(t, "", append(args, "--first-reject", fmt.Sprint(in.Re1))...)
	require.EqualValues(t, in.Re2, got["second_reject"])
	points := got.list(t, "points")
	require.Len(t, points, len(in.P))
	rel := c.tolerance(t, "relative")
	for i, p := range points {
		near(t, want.Pa[i], p.number(t, "accept_probability"), rel, "accepted")
		near(t, want.First[i], p.number(t, "first_probability"), rel, "by the first")
		near(t, want.ASN[i], p.number(t, "mean_tested"), rel, "tested")
	}
	if in.Re1 == in.Ac2+1 {
		require.Equal(t, got, answerOf(t, "", args...), "what rejects at once where nothing is said")
	}
}

// zeroAccept: one case is that of a process, or of one lot as well.
func zeroAccept(t *testing.T, c publishedCase) {
	var in struct {
		LTPD, Confidence json.Number
		Size             *int `json:"lot_size"`
	}
	var want struct {
		N        float64 `json:"n_binomial"`
		Reached  float64 `json:"confidence_reached"`
		NH       float64 `json:"n_hypergeometric"`
		ReachedH float64 `json:"confidence_hypergeometric"`
	}
	c.load(t, &in, &want)
	args := []string{"lot", "plan", "--limiting-quality", in.LTPD.String(), "--confidence", in.Confidence.String()}
	is := func(n, reached float64, args ...string) {
		got := answerOf(t, "", args...)
		require.Equal(t, []any{n, 0.0, 1.0}, []any{got["sample_size"], got["accept"], got["reject"]})
		require.InDelta(t, reached, got.number(t, "confidence"), c.tolerance(t, "confidence_absolute"))
	}
	is(want.N, want.Reached, args...)
	if in.Size != nil {
		args = append(args, "--size", fmt.Sprint(*in.Size))
		is(want.NH, want.ReachedH, args...)
		is(want.N, want.Reached, append(args, "--distribution", "binomial")...)
	}
}
