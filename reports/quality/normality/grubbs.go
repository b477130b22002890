package normality

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
)

// Outlier is the value of a sample that lies farthest from its mean.
type Outlier struct {
	Suspect  float64
	Index    int     // its place in the data, from 0
	G        float64 // its distance from the mean, in standard deviations
	Critical float64 // the largest G that an all-normal sample exceeds with probability alpha
}

// Out reports whether the suspect lies too far out to belong to the sample.
func (o Outlier) Out() bool { return o.G > o.Critical }

// Sides says whether an outlier was looked for at one end named beforehand or
// at both.
type Sides int

// OneSided tests look at one end, TwoSided ones at both.
const (
	OneSided Sides = 1
	TwoSided Sides = 2
)

// Grubbs looks for one outlier in an otherwise normal sample, at the risk alpha
// of calling one where there is none. Domain: at least 3 values that are not
// all alike, 0 < alpha < 1 (NaN critical value outside).
//
// Source: Grubbs, Technometrics 11 (1969) 1; NIST/SEMATECH e-Handbook
// 1.3.5.17.1. An outlier is asked about, never dropped.
func Grubbs(data []float64, alpha float64, sides Sides) (Outlier, error) {
	_, m, err := sorted(data, 3)
	if err != nil {
		return Outlier{}, err
	}
	o := Outlier{Critical: critical(len(data), alpha/float64(sides))}
	for i, v := range data {
		if g := math.Abs(v-m.Mean) / m.SD; g > o.G {
			o.Suspect, o.Index, o.G = v, i, g
		}
	}
	return o, nil
}

func critical(n int, tail float64) float64 {
	if !quality.Probability(tail) {
		return math.NaN()
	}
	size := float64(n)
	t := distuv.StudentsT{Sigma: 1, Nu: size - 2}.Quantile(1 - tail/size)
	return (size - 1) / math.Sqrt(size) * math.Sqrt(t*t/(size-2+t*t))
}
