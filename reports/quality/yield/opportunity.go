package yield

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/law"
	"sinkproof/reports/quality/proportion"
)

// million turns a share into parts per million.
const million = 1e6

// Shift is what is customarily taken off a sigma level for the drift of a
// process over time, in standard deviations. It is custom, not measurement.
const Shift = 1.5

// Opportunities is a count of faults where each unit has several chances to fail.
type Opportunities struct {
	Faults, Units, PerUnit int
}

func (o Opportunities) valid() bool {
	return o.Faults >= 0 && o.Units > 0 && o.PerUnit > 0 && o.PerUnit <= math.MaxInt/o.Units && o.Faults <= o.Units*o.PerUnit
}

// PerOpportunity returns the faults per opportunity.
func (o Opportunities) PerOpportunity() float64 {
	if !o.valid() {
		return math.NaN()
	}
	return float64(o.Faults) / float64(o.Units*o.PerUnit)
}

// MeanFaults returns the faults per unit.
func (o Opportunities) MeanFaults() float64 { return o.PerOpportunity() * float64(o.PerUnit) }

// PerMillion returns the faults per million opportunities, and its exact
// interval (Clopper-Pearson).
func (o Opportunities) PerMillion(confidence float64) (float64, quality.Interval) {
	if !o.valid() {
		return math.NaN(), quality.Undefined()
	}
	i := proportion.ClopperPearson(o.Faults, o.Units*o.PerUnit, confidence)
	return o.PerOpportunity() * million, quality.Interval{Low: i.Low * million, High: i.High * million}
}

// Passing returns the share of units without a fault, if faults fall on units by
// chance (Poisson).
func (o Opportunities) Passing() float64 { return math.Exp(-o.MeanFaults()) }

// Level returns the normal quantile beyond which the faults per opportunity lie,
// on one side: +Inf without a fault, -Inf where every opportunity failed. Shift
// on top of it is what is called the sigma level.
func (o Opportunities) Level() float64 { return Level(o.PerOpportunity()) }

// Level returns the normal quantile that leaves the share beyond it.
func Level(share float64) float64 {
	switch {
	case !(share >= 0 && share <= 1):
		return math.NaN()
	case share == 0:
		return math.Inf(1)
	case share == 1:
		return math.Inf(-1)
	}
	return -mathext.NormalQuantile(share)
}

// PerMillionAt returns the faults per million opportunities of a sigma level
// from which shift standard deviations are taken off, on one side.
func PerMillionAt(level, shift float64) float64 { return million * law.Phi(shift-level) }

// Reworked is a count of one step's faults, of which some were reworked before
// they counted.
type Reworked struct {
	Faults, Reworks int
}

// FromFaults returns, for steps that share the same opportunities, the share of
// opportunities without a fault, the share without fault or rework, and the
// rolled yield of both together (Cano, Moguerza and Redchuk, Six Sigma with R
// (2012), 3). NaN for no opportunities or more faults than these.
func FromFaults(steps []Reworked, opportunities int) (passed, first, rolled float64) {
	faults, reworks := 0, 0
	rolled = 1
	for _, s := range steps {
		faults, reworks = faults+s.Faults, reworks+s.Reworks
		rolled *= 1 - float64(s.Faults+s.Reworks)/float64(opportunities)
	}
	if opportunities <= 0 || faults+reworks > opportunities || len(steps) == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	all := float64(opportunities)
	return 1 - float64(faults)/all, 1 - float64(faults+reworks)/all, rolled
}
