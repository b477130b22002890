package quantity

import "math"

// Line is one contribution as an uncertainty budget lists it (JCGM 100:2008,
// 7.2 and annex H).
type Line struct {
	Source string
	// Dist is the distribution assumed, Half the half-width of its interval in
	// the unit of the cause (the standard uncertainty itself where the
	// distribution has no end), and Divisor what turns it into Std.
	Dist          string
	Half, Divisor float64
	// Std is the standard uncertainty of the cause, Sens the signed
	// sensitivity of the value.
	Std, Sens float64
	// DOF is the degrees of freedom; +Inf for a Type B bound.
	DOF float64
	// Share is |Sens|·Std, in the SI unit of the value, Percent its part of the
	// combined variance.
	Share, Percent float64
}

// Budget is the complete statement of an uncertainty: what a value is wrong by
// and why.
type Budget struct {
	Value Quantity
	Bound Bound
	Lines []Line
	// Combined is the combined standard uncertainty, DOF its effective degrees
	// of freedom (Welch-Satterthwaite, truncated), K the coverage factor for
	// the coverage probability and U = K·Combined. K and U are NaN where the
	// degrees of freedom do not reach one.
	Combined, DOF, Probability, K, U float64
}

// divisor is what the half-width of an interval is divided by (JCGM 100:2008,
// 4.3.7 and 4.3.9); 1 for a distribution without an end.
func divisor(dist string) float64 {
	switch dist {
	case "uniform":
		return math.Sqrt(3)
	case "triangular":
		return math.Sqrt(6)
	}
	return 1
}

// Budget lists the contributions, merged by source, in the order in which they
// were added, with the expanded uncertainty for a coverage probability
// 0 < p < 1. Percentages are 0 where there is no uncertainty at all.
func (m Measured) Budget(p float64) Budget {
	b := Budget{Value: m.Quantity, Bound: m.Bound, Combined: m.Std(), DOF: m.EffectiveDOF(), Probability: p, K: m.CoverageFactor(p)}
	b.U = b.K * b.Combined
	for _, c := range distinct(m.Parts) {
		l := Line{Source: c.Source, Dist: c.Dist, Divisor: divisor(c.Dist), Std: c.Std, Sens: c.Sens, DOF: c.DOF, Share: math.Abs(c.Share())}
		l.Half = l.Std * l.Divisor
		if l.DOF == 0 {
			l.DOF = math.Inf(1)
		}
		if b.Combined > 0 {
			l.Percent = 100 * (l.Share / b.Combined) * (l.Share / b.Combined)
		}
		b.Lines = append(b.Lines, l)
	}
	return b
}
