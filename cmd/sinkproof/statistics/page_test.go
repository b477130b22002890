package statistics

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// pagesOf runs a command with --page and --pdf and returns both.
func pagesOf(t *testing.T, stdin string, args ...string) (html, pdf string, err error) {
	t.Helper()
	dir := t.TempDir()
	files := []string{filepath.Join(dir, "new", "a.html"), filepath.Join(dir, "new", "a.pdf")}
	s := drive(t, stdin, append(args, "--page", files[0], "--pdf", files[1])...)
	if s.err != nil && !errors.Is(s.err, ErrNegative) {
		return "", "", s.err
	}
	require.Contains(t, s.errs, "written: "+files[0])
	var out []string
	for _, f := range files {
		data, err := os.ReadFile(f)
		require.NoError(t, err)
		out = append(out, string(data))
	}
	return out[0], out[1], nil
}

// gaugeText is a crossed study of 4 parts, 2 appraisers, 3 trials.
func gaugeText() string {
	text := "p,a,v,bad,n\n"
	for i := range 24 {
		part, who := i%4, i/4%2
		text += fmt.Sprintf("part %d,nest %d,%v,%d,%d\n", part+1, who+1, float64(part)+0.1*float64(who)+0.05*math.Sin(float64(3*i)), i%3, 20+i%2)
	}
	return text
}

// TestPages: every command draws its page, with the pictures that belong to
// it, and the same one again.
func TestPages(t *testing.T) {
	for _, c := range []struct {
		line     string
		pictures []string
	}{
		{"study capability - --value v --lower -1 --upper 5 --target 2 --subgroup p", []string{"Histogram", "lower -1", "upper 5", "target 2", "Probability plot", "In their order"}},
		{"study capability - --value v --upper 3 --by a", []string{"Pareto", "nest 1", "Histogram"}},
		{"study gauge - --value v --part p --appraiser a --tolerance 4", []string{"Components", "GRR", "Ranges", "By part", "By appraiser", "nest 2"}},
		{"study gauge - --value v --part p --appraiser a --method range", []string{"Components"}},
		{"study chart - --value v --kind individuals --rules nelson --target 0 --sigma 0.5", []string{"a rule is broken", "Moving range", "upper", "centre"}},
		{"study chart - --value v --kind xbar-s --subgroup p", []string{"Mean", "Standard deviation", "part 3"}},
		{"study chart - --value bad --kind p --size n", []string{"Fraction bad", "limits"}},
		{"study chart - --value bad --kind c --by p", []string{"By p", "cumulated", "Faults"}},
		{"study chart - --value v --kind ewma", []string{"Weighted average", "upper, in the end"}},
		{"study chart - --value v --kind cusum", []string{"Cumulated sum", "upper"}},
		{"study tolerance - --value v", []string{"Histogram", "lower limit", "Probability plot"}},
		{"study tolerance --n 20", []string{"Factor over the size of the sample", "n = 20"}},
		{"study proportion --bad 1 --n 50", []string{"Clopper-Pearson", "Jeffreys", "fraction bad"}},
		{"study compare - --value v --between a --margin 1", []string{"Distributions", "Difference", "equivalence", "margin"}},
		{"study compare - --value v --between a --by p", []string{"Effect sizes, by p", "part 4"}},
		{"study moments - --value v", []string{"Histogram", "In their order"}},
		{"study bias - --value v --reference 2 --tolerance 9 --accept 20", []string{"Histogram", "reference 2", "most accepted", "In their order"}},
		{"study linearity - --value v --reference n --tolerance 9 --accept 20", []string{"Bias over the reference", "its band", "least accepted"}},
		{"study stability - --value v --time n", []string{"Readings over time", "its band"}},
		{"study agreement - --value bad --part p --appraiser a --accept 0.5", []string{"Kappa", "by chance", "wanted", "nest 1"}},
		{"lot variables - --value v --sample-size 24 --k 1 --upper 9", []string{"Histogram", "In their order", "Operating characteristic"}},
		{"lot variables --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.06 --consumer-risk 0.1", []string{"Operating characteristic", "accepted at most"}},
		{"lot sequential --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.06 --consumer-risk 0.1", []string{"Bad units over units tested", "accept at or below", "Mean number tested"}},
		{"lot plan --size 500 --aql 1", []string{"Operating characteristic"}},
		{"lot plan --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.06 --consumer-risk 0.1", []string{"Operating characteristic", "accepted at least", "consumer"}},
		{"lot plan --limiting-quality 0.05 --size 100", []string{"Operating characteristic", "limiting 5 %", "accepted at most"}},
		{"lot double --first-size 50 --first-accept 1 --second-size 100 --second-accept 3", []string{"Operating characteristic", "by the first", "asked for", "Mean number tested", "both"}},
		{"lot curve --sample-size 50 --accept 1", []string{"Operating characteristic", "Outgoing quality", "asked for"}},
	} {
		t.Run(c.line, func(t *testing.T) {
			html, pdf, err := pagesOf(t, gaugeText(), strings.Fields(c.line)...)
			require.NoError(t, err)
			for _, p := range c.pictures {
				if p == "Pareto" {
					p = "Beyond the limits, by"
				}
				require.Contains(t, html, p)
			}
			require.True(t, strings.HasPrefix(pdf, "%PDF"))
			html2, pdf2, err := pagesOf(t, gaugeText(), strings.Fields(c.line)...)
			require.NoError(t, err)
			require.Equal(t, html, html2)
			require.True(t, pdf == pdf2, "same bytes")
			require.NotContains(t, html, "NaN")
			require.NotContains(t, html, "Inf")
		})
	}
}

// TestPagesOfOddValues: whatever can be studied can be shown, if need be
// without a picture, and the page says so.
func TestPagesOfOddValues(t *testing.T) {
	for name, values := range map[string][]string{
		"huge":           {"1e74", "2e74", "-3e74", "1e73", "4e74", "1e74", "2e74", "3e74"},
		"tiny":           {"1e-70", "2e-70", "-3e-70", "1e-71", "4e-70", "1e-70", "2e-70", "3e-70"},
		"far and near":   {"1", "1", "1", "1", "1", "1", "1", "1e12"},
		"steps of a bit": {"1", "1.0000000000000002", "1", "1.0000000000000002", "1", "1", "1.0000000000000004", "1"},
		"two values":     {"1", "2"},
		"ties":           {"1", "2", "2", "2", "1", "2", "1", "1"},
	} {
		text := "a,v\n"
		for i, v := range values {
			text += fmt.Sprintf("%d,%s\n", i%2, v)
		}
		for _, line := range []string{
			"study capability - --value v --lower -1 --upper 3", "study moments - --value v", "study tolerance - --value v",
			"study chart - --value v --kind individuals", "study chart - --value v --kind ewma", "study compare - --value v --between a --margin 1",
		} {
			html, pdf, err := pagesOf(t, text, strings.Fields(line)...)
			var trouble *Trouble
			if errors.As(err, &trouble) {
				continue
			}
			require.NoError(t, err, "%s: %s", name, line)
			require.NotEmpty(t, pdf)
			if name == "huge" {
				require.Contains(t, html, "A picture is left out")
			}
		}
	}
}

// TestPageThatCannotBeWritten is told with what to do, and nothing is printed.
func TestPageThatCannotBeWritten(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "file"), nil, 0o600))
	tr := refused(t, "v\n1\n2\n", []string{"study", "moments", "-", "--page", filepath.Join(dir, "file", "a.html")}, "a.html")
	require.Contains(t, tr.Hint, "folder")
}

// TestHistogramCountsAll: no value is lost between the bars, whose edges are
// round.
func TestHistogramCountsAll(t *testing.T) {
	for _, sorted := range [][]float64{sample(200, 5, 0.1), {0, 0, 0, 1}, {-1e9, 1e9}, sample(3, 1e6, 1e-3), {1, 1 + 1e-15}} {
		bars, width := histogram(sorted)
		total := 0.0
		for _, b := range bars {
			total += b.Y
		}
		require.EqualValues(t, len(sorted), total)
		require.LessOrEqual(t, len(bars), 2*mostBars)
		require.LessOrEqual(t, bars[0].X-width/2, sorted[0]+width*1e-6)
		mantissa := width / math.Pow(10, math.Floor(math.Log10(width)+1e-12))
		require.Contains(t, []int{1, 2, 5, 10}, int(math.Round(mantissa)))
		require.InDelta(t, math.Round(mantissa), mantissa, 1e-9)
	}
}

func TestProbabilityPlotKeepsTheEnds(t *testing.T) {
	shown := shownOf(100_000)
	require.Less(t, len(shown), 2*mostDots)
	require.Equal(t, 0, shown[0])
	require.Equal(t, 1, shown[1])
	require.Equal(t, 99_999, shown[len(shown)-1])
	require.Len(t, shownOf(300), 300)
	require.False(t, bytes.Contains([]byte(fmt.Sprint(shareTicks())), []byte("NaN")))
}

// TestOneValueFarOutLeavesTheProbabilityPlotReadable: the line ends where the dots do,
// by shares, and the dots keep their room.
func TestOneValueFarOutLeavesTheProbabilityPlotReadable(t *testing.T) {
	values := make([]float64, 100)
	for i := range values {
		values[i] = 5 + float64(i)/1000
	}
	values[99] = 1000
	f := probability(origin{}, values, 15, 99.5)
	line, dots := f.Series[0].Points, f.Series[1].Points
	require.InDelta(t, dots[99].Y+0.5, line[1].Y, 1e-9)
	require.Equal(t, 5.0, line[0].X)
	near := probability(origin{}, values[:99], 5.049, 0.0287)
	require.Equal(t, []float64{5, 5.098}, []float64{near.Series[0].Points[0].X, near.Series[0].Points[1].X}, "as far as the values go")
}
