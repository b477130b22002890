package gauge

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
)

// Agreement is how far judgements agree beyond chance.
type Agreement struct {
	Observed float64 // share of agreeing judgements
	Chance   float64 // share that would agree by chance
	Kappa    float64 // (Observed-Chance)/(1-Chance); NaN when chance explains all
	SE       float64 // large-sample standard error
	quality.Interval
}

// Cohen measures the agreement of two appraisers: table[i][j] units were put
// into class i by the one and class j by the other. It needs a square table of
// at least two classes, whole counts of 0 or more, and one unit.
//
// Source: Cohen, Educational and Psychological Measurement 20 (1960) 37;
// standard error by Fleiss, Cohen and Everitt, Psychological Bulletin 72
// (1969) 323.
func Cohen(table [][]int, confidence float64) (Agreement, error) {
	k := len(table)
	if k < 2 {
		return Agreement{}, fmt.Errorf("kappa: %d classes, at least 2 are needed: %w", k, quality.ErrSample)
	}
	row, column, n := make([]float64, k), make([]float64, k), 0.0
	for i, r := range table {
		if len(r) != k {
			return Agreement{}, fmt.Errorf("kappa: row %d has %d columns, but there are %d classes: %w", i+1, len(r), k, quality.ErrSample)
		}
		for j, c := range r {
			if c < 0 {
				return Agreement{}, fmt.Errorf("kappa: count %d in row %d, column %d: %w", c, i+1, j+1, quality.ErrSample)
			}
			row[i], column[j], n = row[i]+float64(c), column[j]+float64(c), n+float64(c)
		}
	}
	if n == 0 {
		return Agreement{}, fmt.Errorf("kappa: no unit was judged: %w", quality.ErrSample)
	}
	var a Agreement
	for i := range k {
		a.Observed += float64(table[i][i]) / n
		a.Chance += row[i] * column[i] / (n * n)
	}
	a.Kappa = (a.Observed - a.Chance) / (1 - a.Chance)
	a.SE = cohenError(table, row, column, n, a)
	a.Interval = a.about(confidence)
	return a, nil
}

func cohenError(table [][]int, row, column []float64, n float64, a Agreement) float64 {
	rest := 1 - a.Kappa
	sum := 0.0
	for i := range table {
		for j, c := range table[i] {
			p := float64(c) / n
			both := (row[j] + column[i]) / n * rest
			if i == j {
				sum += p * square(1-both)
			} else {
				sum += p * both * both
			}
		}
	}
	v := sum - square(a.Kappa-a.Chance*rest)
	return math.Sqrt(math.Max(0, v)/n) / (1 - a.Chance)
}

func (a Agreement) about(confidence float64) quality.Interval {
	if !quality.Probability(confidence) {
		return quality.Undefined()
	}
	half := mathext.NormalQuantile((1+confidence)/2) * a.SE
	return quality.Interval{Low: a.Kappa - half, High: math.Min(1, a.Kappa+half)}
}

// Fleiss measures the agreement of many appraisers: counts[i][j] of them put
// unit i into class j. Every unit needs the same number of judgements, two at
// least. SE is that of no agreement beyond chance, to test against.
//
// Source: Fleiss, Psychological Bulletin 76 (1971) 378; standard error by
// Fleiss, Nee and Landis, Psychological Bulletin 86 (1979) 974.
func Fleiss(counts [][]int, confidence float64) (Agreement, error) {
	if len(counts) == 0 || len(counts[0]) < 2 {
		return Agreement{}, fmt.Errorf("kappa: %d units: at least one, in two classes, is needed: %w", len(counts), quality.ErrSample)
	}
	share := make([]float64, len(counts[0]))
	judges, units := 0, float64(len(counts))
	for _, c := range counts[0] {
		judges += c
	}
	var a Agreement
	for i, unit := range counts {
		sum, alike := 0, 0
		for j, c := range unit {
			if c < 0 || j >= len(share) {
				return Agreement{}, fmt.Errorf("kappa: unit %d: count %d in class %d: %w", i+1, c, j+1, quality.ErrSample)
			}
			sum, alike = sum+c, alike+c*(c-1)
			share[j] += float64(c)
		}
		if sum != judges || judges < 2 {
			return Agreement{}, fmt.Errorf("kappa: unit %d was judged %d times, the first %d times: %w", i+1, sum, judges, ErrUnbalanced)
		}
		a.Observed += float64(alike) / float64(judges*(judges-1)) / units
	}
	var spread, skew float64
	for _, s := range share {
		p := s / (units * float64(judges))
		a.Chance += p * p
		spread += p * (1 - p)
		skew += p * (1 - p) * (1 - 2*p)
	}
	a.Kappa = (a.Observed - a.Chance) / (1 - a.Chance)
	a.SE = math.Sqrt(2/(units*float64(judges*(judges-1)))) * math.Sqrt(spread*spread-skew) / spread
	a.Interval = a.about(confidence)
	return a, nil
}
