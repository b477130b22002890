package gauge

import (
	"math"

	"sinkproof/reports/quality/law"
)

// Source is one line of an analysis of variance.
type Source struct {
	SS, DF, MS float64
	F, P       float64 // NaN where there is nothing to compare with
}

// Pooling is the p-value above which an interaction is taken as noise and
// pooled with repeatability (AIAG MSA, 4th ed., appendix A).
const Pooling = 0.25

// Table is the analysis of variance of a crossed study.
type Table struct {
	Part, Appraiser, Interaction, Repeatability, Total Source
}

// Anova is a study by analysis of variance.
type Anova struct {
	Table Table
	Components
	Pooled    bool      // whether the interaction was pooled
	Intervals Intervals // of the components
}

// InteractionP returns the p-value of the interaction; NaN with one appraiser.
func (a Anova) InteractionP() float64 { return a.Table.Interaction.P }

// Analyze separates the components of the study by analysis of variance, parts
// and appraisers both random. The interaction is pooled when its p-value is
// above pool (Pooling by convention; 1 never pools, 0 always does). With one
// appraiser there is neither AV nor interaction. The intervals of the
// components have the confidence given.
//
// Source: Montgomery, Design and Analysis of Experiments, 13.2; Burdick, Borror
// and Montgomery, Design and Analysis of Gauge R&R Studies (2005), 3.
func (s Study) Analyze(pool, confidence float64) Anova {
	o, p, n := s.size()
	a := Anova{Table: s.sums()}
	if o == 1 {
		a.Pooled = true
		a.components(o, p, n, a.Table.Repeatability)
		a.Intervals = a.intervals(o, p, n, a.Table.Repeatability, confidence)
		return a
	}
	a.Table.Interaction.against(a.Table.Repeatability)
	a.Table.Part.against(a.Table.Interaction)
	a.Table.Appraiser.against(a.Table.Interaction)
	a.Pooled = a.Table.Interaction.P > pool
	base := a.Table.Repeatability
	if a.Pooled {
		base = line(a.Table.Interaction.SS+a.Table.Repeatability.SS, a.Table.Interaction.DF+a.Table.Repeatability.DF)
	}
	a.components(o, p, n, base)
	a.Intervals = a.intervals(o, p, n, base, confidence)
	return a
}

func line(ss, df float64) Source {
	return Source{SS: ss, DF: df, MS: ss / df, F: math.NaN(), P: math.NaN()}
}

// against tests the line against the mean square of base.
func (s *Source) against(base Source) {
	s.F = s.MS / base.MS
	s.P = law.FAbove(s.F, s.DF, base.DF)
	if math.IsNaN(s.F) { // 0/0: no spread to compare
		s.P = math.NaN()
	}
}

// sums forms the sums of squares from deviations of means, not from squares of
// readings, which would cancel.
func (s Study) sums() Table {
	o, p, n := s.size()
	byPart, byAppraiser := make([]float64, len(s.Parts)), make([]float64, len(s.Appraisers))
	cell := make([][]float64, len(s.Appraisers))
	grand := 0.0
	for i, row := range s.Values {
		cell[i] = make([]float64, len(row))
		for j, trials := range row {
			m := mean(trials)
			cell[i][j] = m
			byPart[j] += m / o
			byAppraiser[i] += m / p
			grand += m / (o * p)
		}
	}
	var part, appraiser, both, error, total float64
	for _, m := range byPart {
		part += o * n * square(m-grand)
	}
	for i, m := range byAppraiser {
		appraiser += p * n * square(m-grand)
		for j := range byPart {
			both += n * square(cell[i][j]-m-byPart[j]+grand)
			for _, v := range s.Values[i][j] {
				error += square(v - cell[i][j])
				total += square(v - grand)
			}
		}
	}
	return Table{
		Part:          line(part, p-1),
		Appraiser:     line(appraiser, o-1),
		Interaction:   line(both, (p-1)*(o-1)),
		Repeatability: line(error, o*p*(n-1)),
		Total:         line(total, o*p*n-1),
	}
}

// components solves the expected mean squares. base is the repeatability, or
// what it was pooled with.
func (a *Anova) components(o, p, n float64, base Source) {
	over := base.MS // what parts and appraisers stand above
	both := 0.0
	if !a.Pooled {
		over = a.Table.Interaction.MS
		both = math.Max(0, (a.Table.Interaction.MS-base.MS)/n)
	}
	c := Components{
		EV:          math.Sqrt(base.MS),
		Interaction: math.Sqrt(both),
		PV:          math.Sqrt(math.Max(0, (a.Table.Part.MS-over)/(o*n))),
	}
	if o > 1 {
		c.AV = math.Sqrt(math.Max(0, (a.Table.Appraiser.MS-over)/(p*n)))
	}
	a.Components = c.withTotals()
}

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v - values[0]
	}
	return values[0] + sum/float64(len(values))
}

func square(v float64) float64 { return v * v }
