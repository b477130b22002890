package sampling

import (
	"math"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/law"
)

// Double is a double sampling plan: a second sample decides between Accept1 and
// Reject1 bad units in the first.
type Double struct {
	N1, Accept1, Reject1 int
	N2, Accept2          int // Accept2 counts both samples
}

// At returns the probability of acceptance, that of acceptance by the first
// sample, and the mean number of units tested, under the binomial law
// (Montgomery, 15.3).
func (d Double) At(fraction float64) (accept, first, tested float64) {
	one, two := law.Binomial{N: d.N1, P: fraction}, law.Binomial{N: d.N2, P: fraction}
	first = one.CDF(d.Accept1)
	accept = first
	second := 0.0
	for k := d.Accept1 + 1; k < d.Reject1; k++ {
		m := one.Mass(k)
		second += m
		accept += m * two.CDF(d.Accept2-k)
	}
	return accept, first, float64(d.N1) + second*float64(d.N2)
}

// QualityAt returns the fraction of bad units at which a lot is accepted with the
// probability, under the binomial law; NaN unless that lies between 0 and 1.
func (d Double) QualityAt(accept float64) float64 {
	if !quality.Probability(accept) {
		return math.NaN()
	}
	return root.In(func(fraction float64) float64 {
		all, _, _ := d.At(fraction)
		return all - accept
	}, 0, 1)
}

// First is what the first sample says; Continue asks for the second.
func (d Double) First(bad int) Decision {
	switch {
	case bad <= d.Accept1:
		return Accept
	case bad >= d.Reject1:
		return Reject
	}
	return Continue
}

// Second is what the second sample says, by the bad units of both.
func (d Double) Second(bad int) Decision {
	if bad <= d.Accept2 {
		return Accept
	}
	return Reject
}
