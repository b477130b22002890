package compare

import (
	"math"
	"slices"
)

// Holm returns p-values adjusted so that the probability of a single false claim
// among all is at most the level they are held against, whatever depends on
// what. A NaN stays NaN and does not count.
//
// Source: Holm, Scandinavian Journal of Statistics 6 (1979) 65.
func Holm(p []float64) []float64 {
	order := rising(p)
	out, highest := undefined(len(p)), 0.0
	for rank, at := range order {
		highest = math.Max(highest, math.Min(1, float64(len(order)-rank)*p[at]))
		out[at] = highest
	}
	return out
}

// BenjaminiHochberg returns p-values adjusted so that at most the level they are
// held against is the expected share of false claims among the claims, for
// characteristics that are independent or rise and fall together. A NaN stays
// NaN and does not count.
//
// Source: Benjamini and Hochberg, JRSS B 57 (1995) 289.
func BenjaminiHochberg(p []float64) []float64 {
	order := rising(p)
	out, lowest := undefined(len(p)), 1.0
	for rank := len(order) - 1; rank >= 0; rank-- {
		at := order[rank]
		lowest = math.Min(lowest, float64(len(order))/float64(rank+1)*p[at])
		out[at] = lowest
	}
	return out
}

// rising returns the places of the defined p-values, the smallest first.
func rising(p []float64) []int {
	var order []int
	for i, v := range p {
		if !math.IsNaN(v) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	return order
}

func undefined(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = math.NaN()
	}
	return out
}
