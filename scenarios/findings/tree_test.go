package findings

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// sampleChart has four names: a coin, its copy, a copy of a copy that is wrong
// now and then, and one of its own.
func sampleChart() *chart {
	r := rand.New(rand.NewPCG(3, 1))
	c := &chart{classes: 2, sizes: []int{3, 3, 3, 3}}
	for i := range 2000 {
		coin := uint8(1 + r.IntN(2))
		noisy := coin
		if r.Float64() < 0.1 {
			noisy = 3 - coin
		}
		c.rows = append(c.rows, row{class: i % 2, part: i % parts, codes: []uint8{coin, uint8(1 + r.IntN(2)), noisy, coin}, beside: make([]float32, 4)})
	}
	return c
}

func TestInformationOfCoins(t *testing.T) {
	c := sampleChart()
	require.InDelta(t, math.Ln2, c.shared(0, 3), 3e-3, "a copy shares the whole bit")
	require.InDelta(t, 0, c.shared(0, 1), 4e-3, "coins of their own share nothing")
	// A binary symmetric channel with one error in ten carries 1 - h(0.1) =
	// 0.531 bits (Cover and Thomas, Elements of Information Theory, 7.1.4).
	require.InDelta(t, 0.531*math.Ln2, c.shared(0, 2), 0.02)
	require.InDelta(t, 0, c.sharedGiven(0, 2, 3), 1e-9, "what the copy says already says it all")
}

func TestTheTreeJoinsWhatBelongsTogether(t *testing.T) {
	c := sampleChart()
	parent, order := c.tree()
	require.Equal(t, noParent, parent[0])
	require.Equal(t, 0, parent[3])
	require.Contains(t, []int{0, 3}, parent[2])
	require.Len(t, order, 4)
	at := map[int]int{}
	for i, n := range order {
		at[n] = i
	}
	for i, p := range parent {
		require.True(t, p == noParent || at[p] < at[i], "name %d follows its parent", i)
	}
	for i, p := range c.network().second {
		require.Equal(t, noParent, p, "name %d needs no second parent", i)
	}
}

// A name that is whether two coins agree is nothing with one of them, and all
// with both.
func TestASecondParentIsFoundWhereOneSaysNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	c := &chart{classes: 1, sizes: []int{3, 3, 3}}
	for range 2000 {
		a, b := r.IntN(2), r.IntN(2)
		c.rows = append(c.rows, row{codes: []uint8{uint8(1 + a), uint8(1 + b), uint8(1 + (a ^ b))}, beside: make([]float32, 3)})
	}
	p := c.network()
	last := c.lastOf(p)
	require.NotEqual(t, noParent, p.second[last])
	m := count(c, p, func(row) bool { return true }).estimate()
	// Two free coins and one that follows: two bits in all.
	require.InDelta(t, -2*math.Ln2, m.likelihoods([]uint8{1, 1, 1})[0], 0.1)
	require.Less(t, m.likelihoods([]uint8{1, 1, 2})[0], -6.0)
}

// lastOf is the name that has two parents.
func (c *chart) lastOf(p parents) int {
	for i, s := range p.second {
		if s != noParent {
			return i
		}
	}
	return 0
}
