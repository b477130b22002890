package statistics

import (
	"slices"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/sampling"
)

// variablesCurve is the operating characteristic of a plan by variables.
func variablesCurve(v sampling.Variables, risks *sampling.Risks) plot.Figure {
	last := 0.005
	for last < 1 && !(v.Accepts(last) < 0.005) {
		last = min(1, last+0.005)
	}
	if risks != nil {
		last = max(last, min(1, 1.2*risks.ConsumerQuality))
	}
	f := plot.Figure{Title: "Operating characteristic", X: plot.Axis{Name: "fraction beyond the limit", Unit: "%"}, Y: plot.Axis{Name: "accepted", Unit: "%"}}
	const points = 300
	for i := range points + 1 {
		p := last * float64(i) / points
		f.Curve = append(f.Curve, plot.Point{X: 100 * p, Y: 100 * v.Accepts(p)})
	}
	if risks != nil {
		f.Marks = []plot.Mark{{Label: "producer's " + percent(risks.ProducerQuality), X: 100 * risks.ProducerQuality}, {Label: "consumer's " + percent(risks.ConsumerQuality), X: 100 * risks.ConsumerQuality}}
		f.Levels = []plot.Level{{Label: "accepted at least", Y: 100 * (1 - risks.ProducerRisk)}, {Label: "accepted at most", Y: 100 * risks.ConsumerRisk}}
	}
	return f
}

// drawVariables are the values between their limits, with what the mean must keep
// away from them, and the curve of the plan.
func drawVariables(t *table, l capability.Limits, m sampling.Measured, plan sampling.FoundVariables, risks *sampling.Risks) (figures, error) {
	oc := variablesCurve(plan.Variables, risks)
	sorted := slices.Sorted(slices.Values(t.values))
	if sorted[0] == sorted[len(sorted)-1] {
		return figures{wide(oc)}, nil
	}
	limits := map[string]float64{"lower": l.Lower, "upper": l.Upper, "mean": m.Mean,
		"mean at least": l.Lower + plan.K*m.SD, "mean at most": l.Upper - plan.K*m.SD}
	laws := func(area, from, to float64) []plot.Series {
		return []plot.Series{bell("normal with this mean and spread", plot.Line, plot.Orange, m.Mean, m.SD, area, from, to)}
	}
	return figures{wide(spreadPicture(t.origin, sorted, limits, laws)), half(inOrder(t.origin, t.values, m.Mean)), half(oc)}, nil
}

// drawSequential are the two lines with the path of the bad units between them,
// and what the plan takes on the average.
func drawSequential(w *walk, risks sampling.Risks) (figures, error) {
	s := w.plan
	last := float64(max(w.tested*5/4, acceptFrom(s, 2)))
	over := func(intercept float64) []plot.Point {
		from := max(0, -intercept/s.Slope)
		return []plot.Point{{X: from, Y: max(0, intercept)}, {X: last, Y: s.Slope*last + intercept}}
	}
	f := plot.Figure{Title: "Bad units over units tested", X: plot.Axis{Name: "units tested"}, Y: plot.Axis{Name: "bad units"},
		Series: []plot.Series{
			{Name: "reject at or above", Shape: plot.Line, Ink: plot.Brown, Points: over(s.RejectIntercept)},
			{Name: "accept at or below", Shape: plot.Dashed, Ink: plot.Green, Points: over(s.AcceptIntercept)},
		}}
	if w.tested > 0 {
		path := plot.Series{Name: "results", Shape: plot.Line, Ink: plot.Blue, Points: []plot.Point{{}}}
		bad := 0
		for _, at := range w.bads {
			path.Points = append(path.Points, plot.Point{X: float64(at), Y: float64(bad)})
			bad++
			path.Points = append(path.Points, plot.Point{X: float64(at), Y: float64(bad)})
		}
		end := plot.Point{X: float64(w.tested), Y: float64(w.bad)}
		path.Points = append(path.Points, end)
		f.Series = append(f.Series, path, plot.Series{Shape: plot.Ring, Ink: plot.Blue, Points: []plot.Point{end}})
	}
	return figures{wide(f), half(sequentialCurve(s, risks, true)), half(sequentialCurve(s, risks, false))}, nil
}

// sequentialCurve is the probability of acceptance over the fraction bad, or the
// mean number tested.
func sequentialCurve(s sampling.Sequential, risks sampling.Risks, chance bool) plot.Figure {
	f := plot.Figure{Title: "Mean number tested", X: plot.Axis{Name: "fraction bad", Unit: "%"}, Y: plot.Axis{Name: "units"}}
	if chance {
		f.Title, f.Y = "Operating characteristic", plot.Axis{Name: "accepted", Unit: "%"}
	}
	last := min(1, 2*risks.ConsumerQuality)
	const points = 200
	for i := range points + 1 {
		p := last * float64(i) / points
		accept, tested := s.At(p)
		y := tested
		if chance {
			y = 100 * accept
		}
		f.Curve = append(f.Curve, plot.Point{X: 100 * p, Y: y})
	}
	f.Marks = []plot.Mark{{Label: "producer's " + percent(risks.ProducerQuality), X: 100 * risks.ProducerQuality}, {Label: "consumer's " + percent(risks.ConsumerQuality), X: 100 * risks.ConsumerQuality}}
	return f
}

// drawZero is the curve of a plan that accepts no bad unit, with its point.
func drawZero(plan sampling.Plan, lot sampling.Lot, limit, confidence float64) (figures, error) {
	f := characteristic(plan, lot, max(reach(plan, lot), min(1, 1.2*limit)))
	f.Marks = []plot.Mark{{Label: "limiting " + percent(limit), X: 100 * limit}}
	f.Levels = []plot.Level{{Label: "accepted at most", Y: 100 * (1 - confidence)}}
	return figures{wide(f)}, nil
}

// drawDouble is what a double plan accepts, and what it tests for that.
func drawDouble(d sampling.Double, at []float64) (figures, error) {
	last := 1.0
	if end := d.QualityAt(0.005); end > 0 {
		last = min(1, 1.1*end)
	}
	chance := plot.Figure{Title: "Operating characteristic", X: plot.Axis{Name: "fraction bad", Unit: "%"}, Y: plot.Axis{Name: "accepted", Unit: "%"}}
	number := plot.Figure{Title: "Mean number tested", X: plot.Axis{Name: "fraction bad", Unit: "%"}, Y: plot.Axis{Name: "units"},
		Levels: []plot.Level{{Label: "first sample", Y: float64(d.N1)}, {Label: "both", Y: float64(d.N1 + d.N2)}}}
	all := plot.Series{Name: "by either sample", Shape: plot.Line, Ink: plot.Blue}
	early := plot.Series{Name: "by the first", Shape: plot.Dashed, Ink: plot.Green}
	const points = 200
	for i := range points + 1 {
		fraction := last * float64(i) / points
		accept, first, tested := d.At(fraction)
		all.Points = append(all.Points, plot.Point{X: 100 * fraction, Y: 100 * accept})
		early.Points = append(early.Points, plot.Point{X: 100 * fraction, Y: 100 * first})
		number.Curve = append(number.Curve, plot.Point{X: 100 * fraction, Y: tested})
	}
	asked := plot.Series{Name: "asked for", Shape: plot.Ring, Ink: plot.Brown}
	for _, fraction := range at {
		if fraction <= last {
			accept, _, _ := d.At(fraction)
			asked.Points = append(asked.Points, plot.Point{X: 100 * fraction, Y: 100 * accept})
		}
	}
	chance.Series = []plot.Series{all, early}
	if len(asked.Points) > 0 {
		chance.Series = append(chance.Series, asked)
	}
	return figures{half(chance), half(number)}, nil
}
