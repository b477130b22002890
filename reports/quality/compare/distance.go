package compare

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
)

// Distance is the largest gap between two distribution functions.
type Distance struct {
	D          float64
	P          float64 // exact where Exact says so, else Asymptotic
	Exact      bool
	Asymptotic float64 // p-value of large samples
}

// exactPairs is the product of sample sizes below which P is exact, when no
// values are tied (as in R's ks.test).
const exactPairs = 10_000

// KolmogorovSmirnov compares two samples by the largest distance between their
// distribution functions; it sees any difference, in location, spread or shape,
// and none of them well. P is exact for small samples without ties. Each sample
// needs a value.
func KolmogorovSmirnov(x, y []float64) (Distance, error) {
	if err := checkGroups([][]float64{x, y}, 1); err != nil {
		return Distance{}, fmt.Errorf("Kolmogorov-Smirnov test: %w", err)
	}
	x, y = slices.Clone(x), slices.Clone(y)
	slices.Sort(x)
	slices.Sort(y)
	d, tied := gap(x, y)
	m, n := float64(len(x)), float64(len(y))
	r := Distance{D: d, Exact: !tied && len(x)*len(y) < exactPairs}
	r.Asymptotic = law.KolmogorovLimit(d * math.Sqrt(m*n/(m+n)))
	r.P = r.Asymptotic
	if r.Exact {
		r.P = law.KolmogorovTwo(d, len(x), len(y))
	}
	return r, nil
}

// gap walks through both sorted samples.
func gap(x, y []float64) (d float64, tied bool) {
	i, j := 0, 0
	before := math.NaN()
	for i < len(x) || j < len(y) {
		at := math.Inf(1)
		if i < len(x) {
			at = x[i]
		}
		if j < len(y) {
			at = math.Min(at, y[j])
		}
		was := i + j
		for i < len(x) && x[i] == at {
			i++
		}
		for j < len(y) && y[j] == at {
			j++
		}
		tied = tied || i+j-was > 1 || at == before
		before = at
		d = math.Max(d, math.Abs(float64(i)/float64(len(x))-float64(j)/float64(len(y))))
	}
	return d, tied
}

// OneSample compares a sample with a continuous law that was known beforehand,
// by its distribution function. P is exact below 100 values without ties. With
// parameters estimated from the sample itself P comes out too large; see package
// normality.
func OneSample(x []float64, cdf func(float64) float64) (Distance, error) {
	if err := quality.Usable(x, 1); err != nil {
		return Distance{}, fmt.Errorf("Kolmogorov-Smirnov test: %w", err)
	}
	x = slices.Clone(x)
	slices.Sort(x)
	n := float64(len(x))
	r := Distance{Exact: len(x) < 100}
	for i, v := range x {
		p := cdf(v)
		r.D = math.Max(r.D, math.Max(float64(i+1)/n-p, p-float64(i)/n))
		r.Exact = r.Exact && (i == 0 || v != x[i-1])
	}
	r.Asymptotic = law.KolmogorovLimit(math.Sqrt(n) * r.D)
	r.P = r.Asymptotic
	if r.Exact {
		r.P = law.KolmogorovOne(r.D, len(x))
	}
	return r, nil
}
