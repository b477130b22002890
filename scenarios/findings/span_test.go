package findings

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func values(class int, list ...float64) []sample {
	var out []sample
	for _, v := range list {
		out = append(out, sample{observation{kind: estimate, value: v}, class})
	}
	return out
}

func TestEntropyInBits(t *testing.T) {
	for _, c := range []struct {
		name   string
		counts []int
		want   float64
	}{
		{"none", []int{0, 0}, 0},
		{"one class", []int{7, 0}, 0},
		{"a fair coin", []int{5, 5}, 1},
		{"four alike", []int{2, 2, 2, 2}, 2},
		// Quinlan 1986, "Induction of decision trees", section 4: 9 and 5 of 14.
		{"nine and five", []int{9, 5}, 0.940},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := newTally(len(c.counts))
			for class, n := range c.counts {
				for range n {
					k.add(class, 1)
				}
			}
			require.InDelta(t, c.want, k.entropy(), 5e-4)
		})
	}
}

// bruteCut tries every cut with entropies that are counted anew, and applies
// the rule of Fayyad and Irani as it is written down: gain > log2(N-1)/N +
// delta/N, delta = log2(3^k-2) - (k E - k1 E1 - k2 E2).
func bruteCut(list []sample, classes int) int {
	about := func(part []sample) (bits float64, kinds float64) {
		counts := make([]float64, classes)
		for _, s := range part {
			counts[s.class]++
		}
		for _, c := range counts {
			if c > 0 {
				kinds++
				p := c / float64(len(part))
				bits -= p * math.Log2(p)
			}
		}
		return bits, kinds
	}
	n := float64(len(list))
	e, k := about(list)
	best, most := 0, 0.0
	for i := 1; i < len(list); i++ {
		if list[i].value == list[i-1].value {
			continue
		}
		e1, _ := about(list[:i])
		e2, _ := about(list[i:])
		if gain := e - (float64(i)*e1+(n-float64(i))*e2)/n; gain > most+1e-12 {
			best, most = i, gain
		}
	}
	if best == 0 {
		return 0
	}
	e1, k1 := about(list[:best])
	e2, k2 := about(list[best:])
	if most <= (math.Log2(n-1)+math.Log2(math.Pow(3, k)-2)-(k*e-k1*e1-k2*e2))/n {
		return 0
	}
	return best
}

func TestTheBestCutIsTheOneFoundByTryingAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		classes := rapid.IntRange(2, 4).Draw(t, "classes")
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		var list []sample
		for range rapid.IntRange(2, 60).Draw(t, "samples") {
			class := r.IntN(classes)
			list = append(list, values(class, math.Round(float64(class*4)+3*r.NormFloat64()))...)
		}
		slices.SortFunc(list, func(a, b sample) int { return int(2*(a.value-b.value)) + a.class - b.class })
		slices.SortStableFunc(list, func(a, b sample) int { return int(a.value - b.value) })
		require.Equal(t, bruteCut(list, classes), bestCut(list, classes))
	})
}

func TestSpansPartTheClassesAndLeaveGapsUnseen(t *testing.T) {
	var list []sample
	for i := range 40 {
		x := float64(i)
		list = append(list, values(0, 100+x/10)...)
		list = append(list, values(1, 1000+x)...)
	}
	list = append(list, sample{observation{kind: atLeast, value: 2000}, 1}, sample{observation{}, 0})
	c := newCoding(list, 2, mostCuts)
	require.Equal(t, []kind{absent, atLeast}, c.kinds)
	require.Len(t, c.spans, 2)
	of := func(x float64) int { return c.code(observation{kind: estimate, value: x}) }
	require.Equal(t, 3, of(101))
	require.Equal(t, 4, of(1020))
	require.Equal(t, 3, of(99), "half of the width below the lowest")
	require.Equal(t, neverSeen, of(97))
	require.Equal(t, neverSeen, of(500), "no unit lies between")
	require.Equal(t, neverSeen, of(1e6))
	require.Equal(t, 2, c.code(observation{kind: atLeast, value: 1}))
	require.Equal(t, neverSeen, c.code(observation{kind: atMost}))
	require.Equal(t, 1, c.code(observation{}))
	require.Equal(t, 5, c.size())
}

func TestNoUnitOfTheDictionaryIsNeverSeen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 1, 80).Draw(t, "values")
		var list []sample
		for i, v := range x {
			list = append(list, values(i%3, v)...)
		}
		c := newCoding(list, 3, rapid.IntRange(0, mostCuts).Draw(t, "cuts"))
		for _, s := range list {
			require.NotEqual(t, neverSeen, c.code(s.observation))
		}
		for i, s := range c.spans {
			require.False(t, s.isEmpty())
			require.True(t, i == 0 || c.spans[i-1].high < s.low, "spans do not overlap")
		}
	})
}

func TestAUnitNearACutCountsOnBothSides(t *testing.T) {
	c := coding{spans: []span{{0, 10}, {math.Nextafter(10, 11), 20}}}
	require.InDelta(t, 0.5, c.across(10, 1), 1e-6, "at the cut half of it lies beyond")
	// One and two standard deviations leave 15.9 % and 2.28 % (normal tables).
	require.InDelta(t, 0.1587, c.across(9, 1), 1e-4)
	require.InDelta(t, -0.1587, c.across(11, 1), 1e-4)
	require.InDelta(t, 0.0228, c.across(8, 1), 1e-4)
	require.Zero(t, c.across(5, 1))
	require.Zero(t, c.across(9.9, 0), "units that all give the same reach nowhere")
	require.Zero(t, c.across(19.9, 1), "beyond the last span there is no other")
}

func TestTheReachFollowsTheNeighbours(t *testing.T) {
	var list []float64
	for i := range 50 {
		list = append(list, float64(i))
	}
	require.InDelta(t, 4, reach(list, 25), 0, "four on either side")
	require.InDelta(t, 8, reach(list, 0), 0, "eight on one side at the end")
	require.InDelta(t, 2, reach([]float64{1, 2, 3}, 1), 0, "as far as there are any")
	require.Zero(t, reach([]float64{1}, 1))
}
