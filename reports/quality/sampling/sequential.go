package sampling

import (
	"fmt"
	"math"

	"sinkproof/reports/quality/internal/root"
)

// Sequential is Wald's plan: after n units with d bad ones, accept when d is at
// or below Slope·n + AcceptIntercept, reject when it is at or above
// Slope·n + RejectIntercept, and test another unit in between.
type Sequential struct {
	AcceptIntercept, RejectIntercept, Slope float64
	risks                                   Risks
}

// NewSequential returns the plan for the two points.
//
// Source: Wald, Sequential Analysis (1947), 5; NIST/SEMATECH e-Handbook, section 6.2.6.
// The risks attained are a little smaller than asked, since the lines are
// overshot.
func NewSequential(r Risks) (Sequential, error) {
	if err := r.check(); err != nil || r.ConsumerQuality == 1 || r.ProducerRisk+r.ConsumerRisk >= 1 {
		return Sequential{}, fmt.Errorf("sequential plan: %w", errOr(err))
	}
	up, down := r.steps()
	k := up + down
	return Sequential{
		AcceptIntercept: -math.Log((1-r.ProducerRisk)/r.ConsumerRisk) / k,
		RejectIntercept: math.Log((1-r.ConsumerRisk)/r.ProducerRisk) / k,
		Slope:           down / k,
		risks:           r,
	}, nil
}

// steps are what a bad and a good unit add to the log of the likelihood ratio,
// the second with its sign turned.
func (r Risks) steps() (up, down float64) {
	return math.Log(r.ConsumerQuality / r.ProducerQuality), math.Log1p(-r.ProducerQuality) - math.Log1p(-r.ConsumerQuality)
}

// Decision is what a sequential plan says after some units.
type Decision int

// Decisions.
const (
	Continue Decision = iota
	Accept
	Reject
)

// Decide returns the decision after n units of which bad were bad.
func (s Sequential) Decide(n, bad int) Decision {
	d, line := float64(bad), s.Slope*float64(n)
	switch {
	case d <= line+s.AcceptIntercept:
		return Accept
	case d >= line+s.RejectIntercept:
		return Reject
	}
	return Continue
}

// At returns the probability of acceptance and the mean number of units tested
// at the fraction, by Wald's approximation that no line is overshot. NaN outside
// 0..1.
func (s Sequential) At(fraction float64) (accept, tested float64) {
	if !(fraction >= 0 && fraction <= 1) {
		return math.NaN(), math.NaN()
	}
	up, down := s.risks.steps()
	lnA := math.Log((1 - s.risks.ConsumerRisk) / s.risks.ProducerRisk) // reject
	lnB := math.Log(s.risks.ConsumerRisk / (1 - s.risks.ProducerRisk)) // accept
	drift := fraction*up - (1-fraction)*down
	switch {
	case fraction == 0:
		return 1, lnB / drift
	case fraction == 1:
		return 0, lnA / drift
	}
	h := s.exponent(fraction)
	if math.Abs(h) < 1e-6 { // no drift: a walk to and fro
		variance := fraction*up*up + (1-fraction)*down*down
		return lnA / (lnA - lnB), -lnA * lnB / variance
	}
	accept = math.Expm1(h*lnA) / (math.Exp(h*lnA) - math.Exp(h*lnB))
	return accept, (accept*lnB + (1-accept)*lnA) / drift
}

// exponent returns the h at which the h-th power of the likelihood ratio has
// mean 1: 1 at the producer's quality, -1 at the consumer's.
func (s Sequential) exponent(fraction float64) float64 {
	up, down := s.risks.steps()
	at := func(h float64) float64 { // the fraction that belongs to h
		if h == 0 {
			return down / (up + down)
		}
		return -math.Expm1(-h*down) / (math.Expm1(h*up) - math.Expm1(-h*down))
	}
	far := 1.0
	for far*math.Max(up, down) < 300 && !(at(far) < fraction && at(-far) > fraction) {
		far *= 2
	}
	return root.In(func(h float64) float64 { return at(h) - fraction }, -far, far)
}
