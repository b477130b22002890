package statistics

import (
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/gauge"
	"sinkproof/reports/quality/moments"
	"sinkproof/reports/quality/proportion"
	"sinkproof/reports/quality/sampling"
)

func drawBadByGroup(study) func() (figures, error)                { return nil }
func drawPareto(study, *table, int) func() (figures, error)       { return nil }
func (c capable) draw() (figures, error)                          { return nil, nil }
func drawFactors(int, float64, float64, int) (figures, error)     { return nil, nil }
func drawProportion(proportion.Summary, float64) (figures, error) { return nil, nil }
func drawChart(*table, charted) (figures, error)                  { return nil, nil }
func drawGauge(*table, gauge.Study, gauge.Components, float64, bool) (figures, error) {
	return nil, nil
}
func drawTolerance(*table, moments.Moments, quality.Interval) (figures, error) { return nil, nil }
func drawCompare(comparison, [2]string, number) (figures, error)               { return nil, nil }
func drawPlan(sampling.Plan, sampling.Lot, *sampling.Risks) (figures, error)   { return nil, nil }
func drawCurve(sampling.Plan, sampling.Lot, sampling.Lot, []sampling.Point) (figures, error) {
	return nil, nil
}
