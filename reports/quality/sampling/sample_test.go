package sampling_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/sampling"
)

func units(n int) []string {
	list := make([]string, n)
	for i := range list {
		list[i] = fmt.Sprintf("U-%03d", i+1)
	}
	return list
}

func TestASampleDependsOnTheKeyAndOnNothingElse(t *testing.T) {
	all := units(200)
	drawn, err := sampling.Sample([]byte("key"), all, 32)
	require.NoError(t, err)
	require.Len(t, drawn, 32)
	sorted := slices.Compact(slices.Sorted(slices.Values(drawn)))
	require.Len(t, sorted, 32, "no unit twice")
	require.NotEqual(t, sorted, drawn, "the order is drawn as well")
	slices.Reverse(all)
	again, err := sampling.Sample([]byte("key"), all, 32)
	require.NoError(t, err)
	require.Equal(t, drawn, again)
	more, err := sampling.Sample([]byte("key"), all, 50)
	require.NoError(t, err)
	require.Equal(t, drawn, more[:32], "a larger sample goes on where the smaller one ends")
	other, err := sampling.Sample([]byte("kez"), all, 32)
	require.NoError(t, err)
	require.NotEqual(t, drawn, other)
}

// Over many keys every unit is drawn equally often: chi-square of 20 cells with
// 19 degrees of freedom stays below 43.82, its 0.999 quantile (NIST/SEMATECH
// e-Handbook, 1.3.6.7.4). Without putting back the variance is smaller than
// that of independent draws, by (N-n)/(N-1) (Cochran, Sampling Techniques, 2.5).
func TestEveryUnitIsDrawnEquallyOften(t *testing.T) {
	all, counts := units(20), map[string]int{}
	const draws, n = 4000, 5
	for i := range draws {
		drawn, err := sampling.Sample(fmt.Appendf(nil, "key %d", i), all, n)
		require.NoError(t, err)
		for _, u := range drawn {
			counts[u]++
		}
	}
	want, sum := float64(draws*n)/20, 0.0
	for _, u := range all {
		sum += math.Pow(float64(counts[u])-want, 2) / want
	}
	require.Less(t, sum*19/(20-n), 43.82)
}

func TestWhatCannotBeDrawn(t *testing.T) {
	_, err := sampling.Sample(nil, units(3), 4)
	require.ErrorIs(t, err, sampling.ErrPlan)
	_, err = sampling.Sample(nil, units(3), -1)
	require.ErrorIs(t, err, sampling.ErrPlan)
	_, err = sampling.Sample(nil, []string{"A", "B", "A"}, 1)
	require.ErrorIs(t, err, sampling.ErrPlan)
	require.ErrorContains(t, err, `"A" twice`)
	none, err := sampling.Sample(nil, nil, 0)
	require.NoError(t, err)
	require.Empty(t, none)
}

// Letter J (n = 80), ISO 2859-1:1999, table 2-A: 1.0 % gives 2/3, 0.65 % 1/2.
func TestTheScoreAsksOneLimitTighter(t *testing.T) {
	for name, c := range map[string]struct {
		size   int
		aql    float64
		accept int
		asks   bool
	}{
		"accept 2":          {1000, 1.0, 1, true},
		"accept 5":          {1000, 2.5, 3, true},
		"accept 1":          {1000, 0.65, 0, false},
		"no tighter limit":  {1000, 0.010, 0, false},
		"unknown to tables": {1000, 1.1, 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			d, err := sampling.Lookup(c.size, "II", c.aql, sampling.Normal)
			if err != nil {
				d.Plan = sampling.Plan{N: 80, Accept: 2}
			}
			got, asks := d.TighterAccept(c.size, "II", c.aql, sampling.Normal)
			require.Equal(t, c.asks, asks)
			require.Equal(t, c.accept, got)
		})
	}
}

func ExampleSample() {
	drawn, err := sampling.Sample([]byte("nobody knew it before"), []string{"HL-1", "HL-2", "HL-3", "HL-4", "HL-5"}, 2)
	fmt.Println(drawn, err)
	// Output: [HL-5 HL-1] <nil>
}
