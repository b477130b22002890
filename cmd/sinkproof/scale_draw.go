package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"sinkproof/reports/record"
)

// resample draws values that spread and hang together as those of a sample do: a
// smoothed bootstrap with the sample's own covariance (Silverman and Young,
// Biometrika 74 (1987) 469, section 2).
type resample struct {
	mean []float64
	// away is how far the values of each unit lie from the means.
	away [][]float64
}

// newResample takes the values of some units, each in the same order.
func newResample(units [][]float64) resample {
	s := resample{mean: make([]float64, len(units[0]))}
	for i := range s.mean {
		for _, u := range units {
			s.mean[i] += u[i] / float64(len(units))
		}
	}
	for _, u := range units {
		away := make([]float64, len(u))
		for i, v := range u {
			away[i] = v - s.mean[i]
		}
		s.away = append(s.away, away)
	}
	return s
}

// smoothing is how much of the spread is drawn from the normal law in place of a
// unit's own values: enough to hide that there were only some tens of units, too
// little to hide the shape of their spread. Common practice, no source.
const smoothing = 0.5

// draw draws one deviation from the means, for all values at once.
func (s resample) draw(r *rand.Rand) []float64 {
	drawn := make([]float64, len(s.mean))
	add := func(away []float64, weight float64) {
		for i, a := range away {
			drawn[i] += weight * a
		}
	}
	n := float64(len(s.away))
	add(s.away[r.IntN(len(s.away))], math.Sqrt((1-smoothing*smoothing)*n/max(n-1, 1)))
	// A sum of all deviations, each times a normal number, has their covariance.
	for _, away := range s.away {
		add(away, smoothing/math.Sqrt(max(n-1, 1))*r.NormFloat64())
	}
	return drawn
}

// scaleYear is the time over which the runs spread.
const scaleYear = 365 * 24 * time.Hour

// scaleNote stands in every record.
const scaleNote = "drawn from the statistics of some runs of the twin; nothing ran for this record"

// draw makes the i-th record: the checks of a good run or of a faulty one, with
// values drawn anew. It depends on the seed and on i alone.
func (s *scaleSource) draw(i int) (record.Run, error) {
	at := firstMorning(s.seed).Add(time.Duration(float64(scaleYear) * float64(i) / float64(s.runs)))
	serial := fmt.Sprintf("SIM-%08d", i+1)
	id, err := record.NewID(at, s.id.random(serial, 1))
	if err != nil {
		return record.Run{}, fmt.Errorf("name the run of %s: %w", serial, err)
	}
	r := record.Run{
		Schema: record.RunSchema, DurationUS: s.good.DurationUS, Verdict: record.Pass, Bin: record.BinPass,
		Opening: record.Opening{
			ID: id, Serial: serial, Product: s.papers.product.Name, Lot: fmt.Sprintf("S-%03d", i*200/s.runs),
			Supplier: []string{"Fenmark Assembly", "Tarnholm Circuits", "Osterbek Boards"}[i%3], Attempt: 1, Nest: 1 + i%4,
			Bench: s.id.bench, Started: record.Instant(at), Files: s.papers.files, Decision: s.papers.scenario.Decision,
		},
		Notes: []record.Note{{Kind: "simulated", Text: scaleNote}},
	}
	random := randomOf(stream(s.seed, "many records", serial))
	from := s.good
	if len(s.faulty) > 0 && random.Float64() < scaleFaulty {
		from = s.faulty[random.IntN(len(s.faulty))]
		r.DurationUS = from.DurationUS
	}
	drawn := s.spread.draw(random)
	r.Checks = make([]record.Check, 0, len(from.Checks))
	r.Readings = make([]record.Reading, 0, len(from.Checks))
	for _, c := range from.Checks {
		if c.Value != nil && c.Value.Bound == "" {
			c.Value = redrawn(c, drawn[s.at[c.Name]])
			r.Readings = append(r.Readings, record.Reading{Name: c.Name, Channel: "simulated", Value: *c.Value, AtUS: c.AtUS})
		}
		if c.Answer == record.Failed {
			r.Verdict, r.Bin, r.Reason = record.Fail, record.BinRework, c.Title
		}
		r.Checks = append(r.Checks, c)
	}
	return r, nil
}

// redrawn moves the value of a check by a deviation, unless that would contradict
// the answer, which stands as the twin gave it.
func redrawn(c record.Check, by float64) *record.Value {
	v := *c.Value
	v.Value += by
	inside := (c.Lower == nil || v.Value >= c.Lower.Acceptance) && (c.Upper == nil || v.Value <= c.Upper.Acceptance)
	if inside != (c.Answer == record.Passed) {
		return c.Value
	}
	return &v
}
