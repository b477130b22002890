package quantity

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// coverage is the factor of the expanded uncertainty that is printed and
// judged: k = 2, about 95 % for a normal distribution (JCGM 100:2008, 6.3.3).
const coverage = 2

// Expanded returns k times the combined standard uncertainty; of a temperature
// in kelvin.
func (m Measured) Expanded(k float64) Quantity { return Quantity{k * m.Std(), m.Dim} }

// U returns the expanded uncertainty with k = 2.
func (m Measured) U() Quantity { return m.Expanded(coverage) }

// EffectiveDOF returns the effective degrees of freedom by the
// Welch-Satterthwaite formula, truncated to the next lower integer (JCGM
// 100:2008, G.4.1 and G.6.4).
//
// Special cases: +Inf where no contribution has a finite number, and for a
// value without uncertainty.
func (m Measured) EffectiveDOF() float64 {
	variance, sum := 0.0, 0.0
	for _, c := range distinct(m.Parts) {
		v := c.Share() * c.Share()
		variance += v
		if c.DOF > 0 {
			sum += v * v / c.DOF
		}
	}
	if sum == 0 {
		return math.Inf(1)
	}
	// The sum of squares may fall short of an integer by rounding alone, as
	// with a single contribution of ν degrees of freedom.
	return math.Floor(variance * variance / sum * (1 + 1e-12))
}

// CoverageFactor returns the k that covers the probability p: the quantile of
// Student's t for the effective degrees of freedom (JCGM 100:2008, G.3.2), or
// of the normal distribution where they are infinite.
//
// Special cases: NaN for p outside 0 < p < 1 and for less than one effective
// degree of freedom.
func (m Measured) CoverageFactor(p float64) float64 {
	dof := m.EffectiveDOF()
	switch {
	case !(p > 0 && p < 1) || dof < 1:
		return math.NaN()
	case math.IsInf(dof, 1):
		return distuv.UnitNormal.Quantile((1 + p) / 2)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile((1 + p) / 2)
}
