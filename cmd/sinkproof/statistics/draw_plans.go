package statistics

import (
	"math"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality/proportion"
	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/quality/tolerance"
)

// drawFactors is the factor over the size of the sample.
func drawFactors(n int, coverage, confidence float64, sides int) (figures, error) {
	f := plot.Figure{Title: "Factor over the size of the sample", X: plot.Axis{Name: "units"}, Y: plot.Axis{Name: "factor"}}
	const points = 60
	first, last := max(2, n/4), max(30, 3*n)
	before := 0
	for i := range points + 1 {
		at := int(math.Round(float64(first) * math.Pow(float64(last)/float64(first), float64(i)/points)))
		if at == before {
			continue
		}
		before = at
		k := tolerance.TwoSided(at, coverage, confidence)
		if sides == 1 {
			k = tolerance.OneSided(at, coverage, confidence)
		}
		f.Curve = append(f.Curve, plot.Point{X: float64(at), Y: k})
	}
	f.Marks = []plot.Mark{{Label: "n = " + whole(n), X: float64(n)}}
	return figures{wide(f)}, nil
}

// drawProportion are the three intervals.
func drawProportion(p proportion.Summary, confidence float64) (figures, error) {
	return figures{wide(intervalsPicture("Intervals of "+percent(confidence)+" confidence", plot.Axis{Name: "fraction bad"}, []ranged{
		{"Clopper-Pearson", p.Estimate, p.ClopperPearson}, {"Wilson", p.Estimate, p.Wilson}, {"Jeffreys", p.Estimate, p.Jeffreys},
	}))}, nil
}

// reach is the fraction at which a curve has come down.
func reach(plan sampling.Plan, lot sampling.Lot) float64 {
	at := 0.0
	for at < 1 && !(plan.Accepts(lot, at) < 0.005) {
		at += 0.005
	}
	return min(at, 1)
}

// characteristic is the curve of acceptance.
func characteristic(plan sampling.Plan, lot sampling.Lot, last float64) plot.Figure {
	f := plot.Figure{Title: "Operating characteristic", X: plot.Axis{Name: "fraction bad", Unit: "%"}, Y: plot.Axis{Name: "accepted", Unit: "%"}}
	const points = 300
	for i := range points + 1 {
		p := last * float64(i) / points
		f.Curve = append(f.Curve, plot.Point{X: 100 * p, Y: 100 * plan.Accepts(lot, p)})
	}
	return f
}

// outgoing is the mean quality after sorting rejected lots.
func outgoing(plan sampling.Plan, lot sampling.Lot, last float64) plot.Figure {
	f := plot.Figure{Title: "Outgoing quality", X: plot.Axis{Name: "fraction bad", Unit: "%"}, Y: plot.Axis{Name: "bad after sorting", Unit: "%"}}
	const points = 300
	var at []float64
	for i := range points + 1 {
		at = append(at, last*float64(i)/points)
	}
	for _, p := range plan.Curve(lot, at) {
		if !math.IsNaN(p.AOQ) {
			f.Curve = append(f.Curve, plot.Point{X: 100 * p.Fraction, Y: 100 * p.AOQ})
		}
	}
	return f
}

// drawPlan is the curve of a plan with the points that it must respect.
func drawPlan(plan sampling.Plan, lot sampling.Lot, risks *sampling.Risks) (figures, error) {
	last := reach(plan, lot)
	if risks != nil {
		last = max(last, min(1, 1.2*risks.ConsumerQuality))
	}
	f := characteristic(plan, lot, last)
	if risks != nil {
		f.Marks = []plot.Mark{{Label: "producer's " + percent(risks.ProducerQuality), X: 100 * risks.ProducerQuality}, {Label: "consumer's " + percent(risks.ConsumerQuality), X: 100 * risks.ConsumerQuality}}
		f.Levels = []plot.Level{{Label: "accepted at least", Y: 100 * (1 - risks.ProducerRisk)}, {Label: "accepted at most", Y: 100 * risks.ConsumerRisk}}
	}
	return figures{wide(f)}, nil
}

// drawCurve is the curve with the fractions that were asked for.
func drawCurve(plan sampling.Plan, accepts, sorts sampling.Lot, asked []sampling.Point) (figures, error) {
	last := reach(plan, accepts)
	dots := plot.Series{Name: "asked for", Shape: plot.Ring, Ink: plot.Brown}
	for _, p := range asked {
		if p.Fraction <= last && !math.IsNaN(p.AcceptProbability) {
			dots.Points = append(dots.Points, plot.Point{X: 100 * p.Fraction, Y: 100 * p.AcceptProbability})
		}
	}
	f := characteristic(plan, accepts, last)
	if len(dots.Points) > 0 {
		f.Series = []plot.Series{dots}
	}
	out := outgoing(plan, sorts, reach(plan, sampling.Lot{Law: sorts.Law, Size: sorts.Size}))
	if len(out.Curve) == 0 {
		return figures{wide(f)}, nil
	}
	return figures{half(f), half(out)}, nil
}
