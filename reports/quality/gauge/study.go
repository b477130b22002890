package gauge

import (
	"errors"
	"fmt"
	"math"

	"sinkproof/reports/quality"
)

// ErrUnbalanced is returned, wrapped, for a study in which some appraiser
// measured some part more or less often than another.
var ErrUnbalanced = errors.New("study not balanced")

// Reading is one measurement of one part by one appraiser.
type Reading struct {
	Part, Appraiser string
	Value           float64
}

// Study is a crossed and balanced study: values by appraiser, part and trial.
type Study struct {
	Appraisers, Parts []string      // in the order of their first reading
	Values            [][][]float64 // [appraiser][part][trial]
}

// Arrange sorts readings into a study. It needs at least two parts, one
// appraiser and two trials.
func Arrange(readings []Reading) (Study, error) {
	s, cells := Study{}, map[[2]string][]float64{}
	part, appraiser := map[string]bool{}, map[string]bool{}
	for i, r := range readings {
		if math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
			return Study{}, fmt.Errorf("gauge study: reading %d is %v: %w", i+1, r.Value, quality.ErrSample)
		}
		if !part[r.Part] {
			part[r.Part], s.Parts = true, append(s.Parts, r.Part)
		}
		if !appraiser[r.Appraiser] {
			appraiser[r.Appraiser], s.Appraisers = true, append(s.Appraisers, r.Appraiser)
		}
		key := [2]string{r.Appraiser, r.Part}
		cells[key] = append(cells[key], r.Value)
	}
	if len(s.Parts) < 2 {
		return Study{}, fmt.Errorf("gauge study: %d parts, at least 2 are needed to tell parts from gauge: %w", len(s.Parts), quality.ErrSample)
	}
	for _, a := range s.Appraisers {
		var row [][]float64
		for _, p := range s.Parts {
			row = append(row, cells[[2]string{a, p}])
		}
		s.Values = append(s.Values, row)
	}
	return s, s.balanced()
}

// balanced names the first cell with another number of trials than the first.
func (s Study) balanced() error {
	trials := len(s.Values[0][0])
	for i, row := range s.Values {
		for j, cell := range row {
			if len(cell) != trials {
				return fmt.Errorf("gauge study: appraiser %q measured part %q %d times, but %q part %q %d times: %w",
					s.Appraisers[i], s.Parts[j], len(cell), s.Appraisers[0], s.Parts[0], trials, ErrUnbalanced)
			}
		}
	}
	if trials < 2 {
		return fmt.Errorf("gauge study: %d trial of each part, at least 2 are needed to see repeatability: %w", trials, quality.ErrSample)
	}
	return nil
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
