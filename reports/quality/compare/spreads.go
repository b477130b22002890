package compare

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/moments"
)

// Ratio is the comparison of two variances.
type Ratio struct {
	F, P             float64
	quality.Interval // of the true ratio of variances
}

// VarianceRatio compares two variances of normal samples; it trusts in normality
// more than a comparison of means does. Levene trusts less. NaN for no spread in
// both.
func VarianceRatio(x, y Sample, confidence float64) Ratio {
	dx, dy := float64(x.N-1), float64(y.N-1)
	r := Ratio{F: x.SD * x.SD / (y.SD * y.SD), Interval: quality.Undefined()}
	above := law.FAbove(r.F, dx, dy)
	below := law.FAbove(1/r.F, dy, dx)
	r.P = math.Min(1, 2*math.Min(above, below))
	if math.IsNaN(r.F) {
		r.P = math.NaN()
	}
	if quality.Probability(confidence) {
		f := distuv.F{D1: dx, D2: dy}
		r.Interval = quality.Interval{Low: r.F / f.Quantile((1+confidence)/2), High: r.F / f.Quantile((1-confidence)/2)}
	}
	return r
}

// Groups is the answer of a test of several groups at once.
type Groups struct {
	Statistic float64
	DF1, DF2  float64 // DF2 is 0 for a chi-square statistic
	P         float64
}

// checkGroups refuses fewer than two groups, and small ones.
func checkGroups(groups [][]float64, least int) error {
	if len(groups) < 2 {
		return fmt.Errorf("comparison of %d groups, at least 2 are needed: %w", len(groups), quality.ErrSample)
	}
	for i, g := range groups {
		if err := quality.Usable(g, least); err != nil {
			return fmt.Errorf("comparison: group %d: %w", i+1, err)
		}
	}
	return nil
}

// OneWay compares the means of groups by analysis of variance. Each group needs
// a value, one of them two.
func OneWay(groups [][]float64) (Groups, error) {
	if err := checkGroups(groups, 1); err != nil {
		return Groups{}, err
	}
	var all moments.Running
	within := 0.0
	for _, g := range groups {
		all.AddAll(g)
		within += moments.Of(g).Moments().SquaresFromMid
	}
	m := all.Moments()
	r := Groups{DF1: float64(len(groups) - 1), DF2: float64(m.N - len(groups))}
	if r.DF2 == 0 {
		return Groups{}, fmt.Errorf("comparison: no group holds two values: %w", quality.ErrSample)
	}
	between := 0.0
	for _, g := range groups {
		d := moments.Of(g).Mean() - m.Mean
		between += float64(len(g)) * d * d
	}
	r.Statistic = between / r.DF1 / (within / r.DF2)
	r.P = law.FAbove(r.Statistic, r.DF1, r.DF2)
	return r, nil
}

// Levene compares the spreads of groups by the distances from their medians,
// which holds up without normality. Each group needs two values.
//
// Source: Brown and Forsythe, JASA 69 (1974) 364.
func Levene(groups [][]float64) (Groups, error) {
	if err := checkGroups(groups, 2); err != nil {
		return Groups{}, err
	}
	distances := make([][]float64, len(groups))
	for i, g := range groups {
		sorted := slices.Clone(g)
		slices.Sort(sorted)
		middle := moments.Median(sorted)
		for _, v := range g {
			distances[i] = append(distances[i], math.Abs(v-middle))
		}
	}
	return OneWay(distances)
}

// Bartlett compares the spreads of normal groups. Each needs two values.
//
// Source: Bartlett, Proceedings of the Royal Society A 160 (1937) 268;
// NIST/SEMATECH e-Handbook, section 1.3.5.7.
func Bartlett(groups [][]float64) (Groups, error) {
	if err := checkGroups(groups, 2); err != nil {
		return Groups{}, err
	}
	var squares, total, logs, inverse float64
	for _, g := range groups {
		m := moments.Of(g).Moments()
		df := float64(m.N - 1)
		squares, total = squares+m.SquaresFromMid, total+df
		logs += df * math.Log(m.SD*m.SD)
		inverse += 1 / df
	}
	k := float64(len(groups))
	scale := 1 + (inverse-1/total)/(3*(k-1))
	r := Groups{DF1: k - 1, Statistic: (total*math.Log(squares/total) - logs) / scale}
	r.P = distuv.ChiSquared{K: r.DF1}.Survival(r.Statistic)
	return r, nil
}

// KruskalWallis compares groups by the ranks of their values, ties averaged.
// Each needs a value.
//
// Source: Kruskal and Wallis, JASA 47 (1952) 583, P by chi-square.
func KruskalWallis(groups [][]float64) (Groups, error) {
	if err := checkGroups(groups, 1); err != nil {
		return Groups{}, err
	}
	ranks, ties := rank(slices.Concat(groups...))
	n, sum, from := float64(len(ranks)), 0.0, 0
	for _, g := range groups {
		own := 0.0
		for _, r := range ranks[from : from+len(g)] {
			own += r
		}
		from += len(g)
		sum += own * own / float64(len(g))
	}
	h := 12/(n*(n+1))*sum - 3*(n+1)
	r := Groups{DF1: float64(len(groups) - 1), Statistic: h / (1 - ties/(n*n*n-n))}
	r.P = distuv.ChiSquared{K: r.DF1}.Survival(r.Statistic)
	return r, nil
}
