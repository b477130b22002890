package law

import (
	"math"

	"sinkproof/reports/quality/internal/root"
)

// Hypergeometric is the law of the number of bad units among Drawn, taken
// without return from a Lot that holds Bad of them.
// Domain: 0 <= Bad, Drawn <= Lot.
type Hypergeometric struct {
	Lot, Bad, Drawn int
}

func (h Hypergeometric) valid() bool {
	return h.Bad >= 0 && h.Drawn >= 0 && h.Bad <= h.Lot && h.Drawn <= h.Lot
}

// Support returns the fewest and the most bad units that can be drawn.
func (h Hypergeometric) Support() (least, most int) {
	return max(0, h.Drawn+h.Bad-h.Lot), min(h.Drawn, h.Bad)
}

// Mass returns the probability of exactly k; NaN outside the domain.
//
// Method: the product of two binomial masses over a third, at p = Drawn/Lot
// (Loader 2000), so that no factorial is formed.
func (h Hypergeometric) Mass(k int) float64 {
	if !h.valid() {
		return math.NaN()
	}
	least, most := h.Support()
	if k < least || k > most {
		return 0
	}
	lot, bad, drawn := float64(h.Lot), float64(h.Bad), float64(h.Drawn)
	if h.Drawn == 0 || h.Drawn == h.Lot {
		return 1 // nothing, or everything, is drawn: one outcome
	}
	p, q := drawn/lot, (lot-drawn)/lot
	x := float64(k)
	return binomialMass(x, bad, p, q) * binomialMass(drawn-x, lot-bad, p, q) / binomialMass(drawn, lot, p, q)
}

// CDF returns the probability of at most k; NaN outside the domain.
func (h Hypergeometric) CDF(k int) float64 {
	least, most := h.Support()
	switch {
	case !h.valid():
		return math.NaN()
	case k < least:
		return 0
	case k >= most:
		return 1
	case float64(k)*float64(h.Lot) <= float64(h.Drawn)*float64(h.Bad):
		return h.down(k, least)
	}
	return 1 - h.up(k+1, most)
}

// Above returns the probability of more than k; NaN outside the domain.
func (h Hypergeometric) Above(k int) float64 {
	least, most := h.Support()
	switch {
	case !h.valid():
		return math.NaN()
	case k < least:
		return 1
	case k >= most:
		return 0
	case float64(k)*float64(h.Lot) > float64(h.Drawn)*float64(h.Bad):
		return h.up(k+1, most)
	}
	return 1 - h.down(k, least)
}

// down sums the masses from k to least by their ratios; k lies below the mean,
// so they only fall.
func (h Hypergeometric) down(k, least int) float64 {
	term := h.Mass(k)
	sum := term
	for j := k; j > least && term > sum*1e-18; j-- {
		term *= float64(j) * float64(h.Lot-h.Bad-h.Drawn+j) / (float64(h.Bad-j+1) * float64(h.Drawn-j+1))
		sum += term
	}
	return sum
}

// up sums the masses from k to most; k lies above the mean.
func (h Hypergeometric) up(k, most int) float64 {
	term := h.Mass(k)
	sum := term
	for j := k; j < most && term > sum*1e-18; j++ {
		term *= float64(h.Bad-j) * float64(h.Drawn-j) / (float64(j+1) * float64(h.Lot-h.Bad-h.Drawn+j+1))
		sum += term
	}
	return sum
}

// Quantile returns the smallest k with CDF(k) >= p, within the support.
func (h Hypergeometric) Quantile(p float64) int {
	least, most := h.Support()
	return root.First(func(k int) bool { return h.CDF(k) >= p*reached }, least, most-1)
}
