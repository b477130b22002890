package takt

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// invented returns a problem with random times, ways, precedence and failures.
// Whatever comes later may need what comes earlier, so the file's own order is
// always allowed.
func invented(seed uint64, n int, share float64) *problem {
	r := rand.New(rand.NewPCG(seed, 0))
	p := &problem{prices: Prices{Operation: 0.001 * r.Float64()}, stops: seed%2 == 0}
	for i := range n {
		p.names = append(p.names, string(rune('a'+i)))
		p.hazard = append(p.hazard, r.IntN(5) == 0)
		p.inside = append(p.inside, float64(r.IntN(3)))
		p.last = append(p.last, Cost{0.01 * r.Float64(), 0})
		after, behind := uint64(0), uint64(0)
		if i > 0 {
			after = 1
		}
		for j := range i {
			if r.Float64() < share {
				after |= 1 << j
			}
		}
		if i > 1 && r.IntN(4) == 0 {
			behind = 1<<(i-1) | 1<<r.IntN(n)
		}
		p.after, p.behind = append(p.after, after), append(p.behind, behind)
		var edges []Cost
		for range n {
			edges = append(edges, Cost{0.1 * r.Float64(), float64(r.IntN(9))})
		}
		p.way = append(p.way, edges)
	}
	for range 4 {
		s := Sample{Weight: r.Float64(), Dwell: map[string]float64{}}
		for _, name := range p.names {
			s.Dwell[name] = r.Float64()
		}
		p.add(r.Uint64N(1<<n)&r.Uint64N(1<<n), s)
	}
	return p
}

// cheapest tries every order.
func (p *problem) cheapest() float64 {
	best := math.Inf(1)
	var try func(order []int)
	try = func(order []int) {
		if len(order) == len(p.names) {
			if p.allowed(order) {
				best = min(best, p.cost(order).worth(p.prices))
			}
			return
		}
		for k := range p.names {
			if !slices.Contains(order, k) {
				try(append(slices.Clone(order), k))
			}
		}
	}
	try([]int{0})
	return best
}

func TestThePlanIsTheCheapestOfAllOrders(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := invented(rapid.Uint64().Draw(rt, "seed"), rapid.IntRange(2, 7).Draw(rt, "rounds"), rapid.Float64Range(0, 0.4).Draw(rt, "share"))
		order, _ := p.exact()
		require.NotNil(rt, order)
		require.True(rt, p.allowed(order))
		require.InDelta(rt, p.cheapest(), p.cost(order).worth(p.prices), 1e-12)
	})
}

// TestFourteenFreeRoundsAreOrderedExactly: beside the probe, nothing orders
// them.
func TestFourteenFreeRoundsAreOrderedExactly(t *testing.T) {
	p := invented(4, 15, 0)
	clear(p.behind)
	order, sets := p.exact()
	require.Len(t, order, 15)
	require.Equal(t, 1<<14, sets, "every set of them")
	own := make([]int, 15)
	for i := range own {
		own[i] = i
	}
	require.Less(t, p.cost(order).worth(p.prices), p.cost(own).worth(p.prices))
	near := p.improve(own)
	require.LessOrEqual(t, p.cost(order).worth(p.prices), p.cost(near).worth(p.prices)+1e-12, "no local search is better")
}

func TestTooManySetsAreLeftToTheLocalSearch(t *testing.T) {
	p := invented(6, 22, 0)
	order, sets := p.exact()
	require.Nil(t, order)
	require.Greater(t, sets, mostSets)
	own := make([]int, 22)
	for i := range own {
		own[i] = i
	}
	found := p.improve(own)
	require.True(t, p.allowed(found))
	require.Less(t, p.cost(found).worth(p.prices), p.cost(own).worth(p.prices))
}

// TestWhatFindsFaultsQuicklyComesFirst: two rounds of one second, of which the
// second finds nine units of ten; only where the asking ends with a fail does
// that matter, and a hazard is asked for all the same.
func TestWhatFindsFaultsQuicklyComesFirst(t *testing.T) {
	p := &problem{names: []string{"seat", "slow", "finder", "hazard"}, after: []uint64{0, 1, 1, 0b111}, behind: make([]uint64, 4),
		hazard: []bool{false, false, false, true}, inside: make([]float64, 4), last: make([]Cost, 4), stops: true}
	for range 4 {
		p.way = append(p.way, make([]Cost, 4))
	}
	dwell := map[string]float64{"seat": 0.1, "slow": 1, "finder": 1, "hazard": 0.5}
	p.add(0, Sample{Weight: 0.1, Dwell: dwell})
	p.add(0b100, Sample{Weight: 0.9, Dwell: dwell})
	order, _ := p.exact()
	require.Equal(t, []int{0, 2, 1, 3}, order)
	require.InDelta(t, 0.1+1+0.1*1+0.5, p.cost(order).Seconds, 1e-12)
	require.InDelta(t, 2.6, p.cost([]int{0, 1, 2, 3}).Seconds, 1e-12)
	p.stops = false
	require.InDelta(t, 2.6, p.cost(order).Seconds, 1e-12)
}

// TestRelayOperationsHaveTheirPrice: a way that is a little slower and moves
// less is taken where operations are dear.
func TestRelayOperationsHaveTheirPrice(t *testing.T) {
	p := &problem{names: []string{"seat", "a", "b"}, after: []uint64{0, 1, 1}, behind: make([]uint64, 3),
		hazard: make([]bool, 3), inside: make([]float64, 3), last: make([]Cost, 3)}
	p.way = [][]Cost{{{}, {0.010, 9}, {0.011, 1}}, {{}, {}, {0.010, 1}}, {{}, {0.010, 1}, {}}}
	p.add(0, Sample{Weight: 1, Dwell: map[string]float64{}})
	order, _ := p.exact()
	require.Equal(t, []int{0, 1, 2}, order)
	p.prices.Operation = 0.001
	order, _ = p.exact()
	require.Equal(t, []int{0, 2, 1}, order)
}
