package gauge

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"sinkproof/reports/quality"
)

// Intervals are those of the components of a study, as standard deviations.
// What a study does not have (an interaction that was pooled, AV with one
// appraiser) has an undefined interval.
type Intervals struct {
	EV, AV, Interaction, GRR, PV, TV quality.Interval
}

// term is one mean square of a linear combination.
type term struct {
	weight float64
	Source
}

// intervals returns the interval of every component. EV is exact; the others
// are combinations of mean squares.
func (a Anova) intervals(o, p, n float64, base Source, confidence float64) Intervals {
	none := quality.Undefined()
	i := Intervals{AV: none, Interaction: none}
	error := term{1, base}
	over := error
	if !a.Pooled {
		over.Source = a.Table.Interaction
		i.Interaction = combination(confidence, term{1 / n, a.Table.Interaction}, term{-1 / n, base})
	}
	i.EV = combination(confidence, error)
	i.PV = combination(confidence, term{1 / (o * n), a.Table.Part}, term{-1 / (o * n), over.Source})
	if o == 1 {
		i.GRR = i.EV
		i.TV = combination(confidence, term{1 / n, a.Table.Part}, term{1 - 1/n, base})
		return i
	}
	i.AV = combination(confidence, term{1 / (p * n), a.Table.Appraiser}, term{-1 / (p * n), over.Source})
	if a.Pooled {
		i.GRR = combination(confidence, term{1 / (p * n), a.Table.Appraiser}, term{1 - 1/(p*n), base})
		i.TV = combination(confidence, term{1 / (p * n), a.Table.Appraiser}, term{1 / (o * n), a.Table.Part}, term{1 - 1/(p*n) - 1/(o*n), base})
		return i
	}
	i.GRR = combination(confidence, term{1 / (p * n), a.Table.Appraiser}, term{(p - 1) / (p * n), a.Table.Interaction}, term{(n - 1) / n, base})
	i.TV = combination(confidence, term{1 / (p * n), a.Table.Appraiser}, term{1 / (o * n), a.Table.Part},
		term{(p*o - p - o) / (p * o * n), a.Table.Interaction}, term{(n - 1) / n, base})
	return i
}

// combination returns the interval of the root of a sum of weighted expected
// mean squares, by modified large-sample limits; its ends are not below 0.
//
// Source: Graybill and Wang, JASA 75 (1980) 869, for positive weights; Ting,
// Burdick, Graybill, Jeyaratnam and Lu, Journal of Statistical Computation and
// Simulation 35 (1990) 135, for mixed ones. For a single mean square it is the
// exact chi-square interval.
func combination(confidence float64, terms ...term) quality.Interval {
	if !quality.Probability(confidence) {
		return quality.Undefined()
	}
	risk := (1 - confidence) / 2
	value := 0.0
	for _, t := range terms {
		value += t.weight * t.MS
	}
	down, up := 0.0, 0.0
	for _, t := range terms {
		size := square(t.weight * t.MS)
		least, most := factors(t.DF, risk)
		if t.weight < 0 {
			least, most = most, least
		}
		down += least * least * size
		up += most * most * size
	}
	for _, t := range terms {
		for _, u := range terms {
			if t.weight > 0 && u.weight < 0 {
				low, high := crossed(t.DF, u.DF, risk)
				both := -t.weight * u.weight * t.MS * u.MS
				down += low * both
				up += high * both
			}
		}
	}
	return quality.Interval{
		Low:  math.Sqrt(math.Max(0, value-math.Sqrt(math.Max(0, down)))),
		High: math.Sqrt(math.Max(0, value+math.Sqrt(math.Max(0, up)))),
	}
}

// factors returns by which shares of itself a mean square of df degrees may lie
// above and below its expectation: G and H of Ting et al.
func factors(df, risk float64) (g, h float64) {
	chi := distuv.ChiSquared{K: df}
	return 1 - df/chi.Quantile(1-risk), df/chi.Quantile(risk) - 1
}

// crossed returns the cross terms of a positive and a negative mean square that
// make the limits exact when their ratio decides.
func crossed(plus, minus, risk float64) (low, high float64) {
	f := distuv.F{D1: plus, D2: minus}
	gp, hp := factors(plus, risk)
	gm, hm := factors(minus, risk)
	upper, lower := f.Quantile(1-risk), f.Quantile(risk)
	low = (square(upper-1) - square(gp*upper) - square(hm)) / upper
	high = (square(1-lower) - square(hp*lower) - square(gm)) / lower
	return low, high
}
