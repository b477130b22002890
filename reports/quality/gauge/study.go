package gauge

import "math"

// Study is a crossed and balanced study: values by appraiser, part and trial.
type Study struct {
	Appraisers, Parts []string      // in the order of their first reading
	Values            [][][]float64 // [appraiser][part][trial]
}

// size returns the numbers of appraisers, parts and trials.
func (s Study) size() (appraisers, parts, trials float64) {
	return float64(len(s.Values)), float64(len(s.Values[0])), float64(len(s.Values[0][0]))
}

// Components is the spread of a study, as standard deviations.
type Components struct {
	EV, AV, Interaction, GRR, PV, TV float64
}

// withTotals fills GRR and TV.
func (c Components) withTotals() Components {
	c.GRR = math.Sqrt(c.EV*c.EV + c.AV*c.AV + c.Interaction*c.Interaction)
	c.TV = math.Hypot(c.GRR, c.PV)
	return c
}

// Reproducibility returns what differs between appraisers, interaction included.
func (c Components) Reproducibility() float64 { return math.Hypot(c.AV, c.Interaction) }

// Scaled returns every component in percent of whole; NaN for a whole of 0. Of
// TV it is the share of the study variation, of a sixth of the tolerance the
// share of that.
func (c Components) Scaled(whole float64) Components {
	if whole == 0 {
		whole = math.NaN()
	}
	f := 100 / whole
	return Components{c.EV * f, c.AV * f, c.Interaction * f, c.GRR * f, c.PV * f, c.TV * f}
}

// GRRPercent returns GRR in percent of TV; NaN for no spread at all. Below 10 is
// commonly taken as good, above 30 as unfit (AIAG MSA, 4th ed., II.D).
func (c Components) GRRPercent() float64 { return c.Scaled(c.TV).GRR }

// GRRPercentTolerance returns six GRR in percent of the width of the tolerance;
// NaN unless the width is positive.
func (c Components) GRRPercentTolerance(width float64) float64 {
	if !(width > 0) {
		return math.NaN()
	}
	return c.Scaled(width / 6).GRR
}

// distinct is sqrt(2), cut to the two decimals of AIAG MSA.
const distinct = 1.41

// NDC returns the number of distinct categories that the gauge can tell among
// the parts, 1.41 PV/GRR truncated, and the same before truncation. Without a
// spread of the gauge there is no such number: whole is 0, exact +Inf or NaN. Five are asked for (AIAG MSA).
func (c Components) NDC() (whole int, exact float64) {
	exact = distinct * c.PV / c.GRR
	if !(exact <= math.MaxInt32) {
		return 0, exact
	}
	return int(exact), exact
}
