package sampling

import (
	"errors"
	"fmt"
	"math"

	"sinkproof/reports/quality"
	"sinkproof/reports/quality/internal/root"
	"sinkproof/reports/quality/law"
)

// ErrPlan is returned, wrapped, for a plan that does not exist or makes no sense.
var ErrPlan = errors.New("no such plan")

// Plan is a single sampling plan by attributes: test N, reject from Reject bad
// units on. Reject is Accept + 1.
type Plan struct {
	N, Accept int
}

// Reject returns the number of bad units from which the lot is rejected.
func (p Plan) Reject() int { return p.Accept + 1 }

// Law is what bad units in a sample obey.
type Law int

// Laws.
const (
	Binomial Law = iota
	Poisson
	Hypergeometric
)

// String returns the name of the law.
func (l Law) String() string {
	return [...]string{"binomial", "poisson", "hypergeometric"}[min(max(l, 0), 2)]
}

// Lot is where a sample is drawn from. Size counts for Hypergeometric, for the
// outgoing quality, and nothing else; 0 is an endless supply.
type Lot struct {
	Law  Law
	Size int
}

// accepts returns the probability of at most the plan's Accept bad units. bad is
// the number of bad units in a lot of known size.
func (l Lot) accepts(p Plan, fraction float64, bad int) float64 {
	switch l.Law {
	case Hypergeometric:
		return law.Hypergeometric{Lot: l.Size, Bad: bad, Drawn: p.N}.CDF(p.Accept)
	case Poisson:
		return law.Poisson{Mean: float64(p.N) * fraction}.CDF(p.Accept)
	}
	return law.Binomial{N: p.N, P: fraction}.CDF(p.Accept)
}

// Accepts returns the probability that a lot with this fraction of bad units is
// accepted. A lot of known size holds a whole number of them, the nearest one.
// NaN for a fraction outside 0..1 and a sample larger than the lot.
func (p Plan) Accepts(l Lot, fraction float64) float64 {
	if !(fraction >= 0 && fraction <= 1) || p.N < 0 || p.Accept < 0 {
		return math.NaN()
	}
	return l.accepts(p, fraction, int(math.Round(fraction*float64(l.Size))))
}

// Point is one point of an operating characteristic.
type Point struct {
	Fraction          float64
	AcceptProbability float64
	AOQ               float64 // average outgoing quality
	ATI               float64 // average units tested per lot; NaN without a lot size
}

// Curve returns the operating characteristic at the fractions.
func (p Plan) Curve(l Lot, fractions []float64) []Point {
	points := make([]Point, len(fractions))
	for i, f := range fractions {
		points[i] = p.at(l, f)
	}
	return points
}

// at adds what rectifying inspection makes of a fraction: rejected lots are
// tested whole, and bad units replaced (Montgomery, Introduction to Statistical
// Quality Control, section 15.2.3). Without a lot size the sample is no part of it.
func (p Plan) at(l Lot, fraction float64) Point {
	accept := p.Accepts(l, fraction)
	q := Point{Fraction: fraction, AcceptProbability: accept, AOQ: accept * fraction, ATI: math.NaN()}
	if l.Size > 0 {
		rest := float64(l.Size - p.N)
		q.AOQ *= rest / float64(l.Size)
		q.ATI = float64(p.N) + (1-accept)*rest
	}
	return q
}

// AOQL returns the worst average outgoing quality and the incoming fraction at
// which it occurs, under the binomial or the Poisson law.
//
// Method: the highest of 200 points, then golden section around it.
func (p Plan) AOQL(l Lot) (worst, at float64) {
	if l.Law == Hypergeometric {
		l.Law = Binomial // the outgoing quality of many lots, not of one
	}
	outgoing := func(f float64) float64 { return p.at(l, f).AOQ }
	const steps = 200
	high := math.Min(1, 4*float64(p.Accept+2)/float64(max(p.N, 1)))
	best := 0.0
	for i := range steps {
		if f := high * float64(i) / steps; outgoing(f) > outgoing(best) {
			best = f
		}
	}
	width := high / steps
	low, up := math.Max(0, best-width), math.Min(1, best+width)
	for range 60 { // golden section: the top of a smooth hill
		const golden = 0.3819660112501051
		a, b := low+golden*(up-low), up-golden*(up-low)
		if outgoing(a) < outgoing(b) {
			low = a
		} else {
			up = b
		}
	}
	at = (low + up) / 2
	return outgoing(at), at
}

// QualityAt returns the fraction of bad units that the plan accepts with the
// probability, under the binomial law: the acceptance quality at 0.95, the
// indifference quality at 0.5, the limiting quality at 0.1. NaN outside 0..1.
func (p Plan) QualityAt(accept float64) float64 {
	if !quality.Probability(accept) || p.Accept >= p.N || p.Accept < 0 {
		return math.NaN()
	}
	return law.BetaQuantile(1-accept, float64(p.Accept+1), float64(p.N-p.Accept))
}

// Risks are the two points that a plan must respect: lots of the producer's
// quality are rejected with at most the producer's risk, lots of the consumer's
// quality accepted with at most the consumer's.
type Risks struct {
	ProducerQuality, ProducerRisk float64
	ConsumerQuality, ConsumerRisk float64
}

func (r Risks) check() error {
	if !quality.Probability(r.ProducerRisk) || !quality.Probability(r.ConsumerRisk) ||
		!(r.ProducerQuality > 0) || !(r.ConsumerQuality <= 1) || !(r.ProducerQuality < r.ConsumerQuality) {
		return fmt.Errorf("quality %v at risk %v, quality %v at risk %v: the producer's must be the smaller, all between 0 and 1: %w",
			r.ProducerQuality, r.ProducerRisk, r.ConsumerQuality, r.ConsumerRisk, ErrPlan)
	}
	return nil
}

// Found is a plan with the risks that it attains.
type Found struct {
	Plan
	ProducerRisk, ConsumerRisk float64
}

// largestAccept ends the search for a plan: beyond, the two qualities lie too
// close for any sample that could be tested.
const largestAccept = 5000

// Find returns the plan with the smallest sample, and of these the smallest
// Accept, that meets both risks exactly. In a lot of known size the producer's
// quality is the largest whole number of bad units within it, the consumer's the
// smallest one beyond it, so that both promises hold for every lot.
func Find(l Lot, r Risks) (Found, error) {
	if err := r.check(); err != nil {
		return Found{}, fmt.Errorf("finding a plan: %w", err)
	}
	most := math.MaxInt32
	if l.Law == Hypergeometric {
		if l.Size < 1 {
			return Found{}, fmt.Errorf("finding a plan: the hypergeometric law needs a lot size, not %d: %w", l.Size, ErrPlan)
		}
		most = l.Size
	}
	good, bad := whole(l.Size, r.ProducerQuality, math.Floor), whole(l.Size, r.ConsumerQuality, math.Ceil)
	for accept := 0; accept <= min(largestAccept, most); accept++ {
		safe := func(n int) bool {
			return l.accepts(Plan{n, accept}, r.ConsumerQuality, bad) <= r.ConsumerRisk
		}
		n := smallest(safe, accept+1, most)
		if n > most {
			continue
		}
		p := Plan{n, accept}
		if pass := l.accepts(p, r.ProducerQuality, good); pass >= 1-r.ProducerRisk {
			return Found{p, 1 - pass, l.accepts(p, r.ConsumerQuality, bad)}, nil
		}
	}
	return Found{}, fmt.Errorf("finding a plan: none with at most %d bad units meets both risks: %w", largestAccept, ErrPlan)
}

// whole returns the number of bad units in a lot, forgiving the rounding of a
// product such as 0.07 times 100.
func whole(size int, fraction float64, to func(float64) float64) int {
	exact := fraction * float64(size)
	if near := math.Round(exact); math.Abs(exact-near) < 1e-9*(1+near) {
		return int(near)
	}
	return int(to(exact))
}

// smallest returns the smallest n from low on for which holds, most+1 if none.
func smallest(holds func(int) bool, low, most int) int {
	high := max(low, 1)
	for !holds(high) {
		if high >= most {
			return most + 1
		}
		low = high + 1
		high = min(2*high, most)
	}
	return root.First(holds, low, high)
}

// ZeroAcceptance returns the smallest sample that, without a bad unit in it,
// shows with the confidence that fewer than the limiting fraction are bad; and
// the confidence reached. A lot of known size (Hypergeometric) holds the
// smallest whole number of bad units that reach the fraction.
func ZeroAcceptance(l Lot, limiting, confidence float64) (n int, reached float64, err error) {
	if !quality.Probability(limiting) || !quality.Probability(confidence) || (l.Law == Hypergeometric && l.Size < 1) {
		return 0, 0, fmt.Errorf("zero acceptance at %v with confidence %v in a lot of %d: %w", limiting, confidence, l.Size, ErrPlan)
	}
	most := math.MaxInt32
	if l.Law == Hypergeometric {
		most = l.Size
	}
	bad := whole(l.Size, limiting, math.Ceil)
	risk := func(n int) float64 { return l.accepts(Plan{N: n}, limiting, bad) }
	n = smallest(func(n int) bool { return risk(n) <= 1-confidence }, 1, most)
	if n > most {
		return 0, 0, fmt.Errorf("zero acceptance at %v with confidence %v: no sample of fewer than %d does: %w", limiting, confidence, most, ErrPlan)
	}
	return n, 1 - risk(n), nil
}

// LargestAccept returns the largest number of bad units among n that still
// keeps the consumer's risk below risk at the fraction; -1 when not even none
// does.
func LargestAccept(l Lot, n int, fraction, risk float64) int {
	bad := whole(l.Size, fraction, math.Ceil)
	return root.First(func(c int) bool { return !(l.accepts(Plan{n, c}, fraction, bad) < risk) }, 0, n) - 1
}
