package qualification

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sinkproof/reports/quality/gauge"
)

// Gauge is what a gauge study says about one characteristic.
type Gauge struct {
	// EV is the spread of re-seating, Nest and Day what differs between nests and
	// between days, GRR everything that is the rig's.
	EV, Nest, Day, GRR, PV float64
	// Percent is GRR in percent of the room: six of it in the width between two
	// limits, three in the distance from the mean to one.
	Percent float64
	Fit     bool
}

// Rig is whether the rig is fit for the decision.
type Rig struct {
	Parts, Nests, Days, Trials int
	// Gauges are those of the characteristics, in their order.
	Gauges []Gauge
	// Unfit says why the decision is refused; empty for a rig that is fit.
	Unfit []string
}

// NewRig judges the gauge study.
func NewRig(s Sample) Rig {
	r := Rig{
		Parts: count(s.Gauge, func(t Trial) string { return t.Part }),
		Nests: count(s.Gauge, func(t Trial) string { return t.Place.nest() }),
		Days:  count(s.Gauge, func(t Trial) string { return t.Place.Day }),
	}
	if len(s.Gauge) == 0 {
		r.Unfit = []string{"no gauge study: no board was run again and again in every nest on every day"}
		return r
	}
	own := 0
	for _, t := range s.Gauge {
		if t.OwnCell {
			own++
		}
	}
	if own > 0 {
		r.Unfit = append(r.Unfit, fmt.Sprintf("%d runs of the gauge study were of boards with a cell of their own, which every charge changes; the bench's substitute is wanted on the pads", own))
	}
	r.Trials = len(s.Gauge) / (r.Parts * r.Nests * r.Days)
	r.factors(s)
	for i, c := range s.Characteristics {
		g, err := newGauge(s, i)
		if err != nil {
			r.Unfit = append(r.Unfit, fmt.Sprintf("%s: %v", c.Name, err))
		} else if g.Fit = g.Percent <= s.Terms.GRR; !g.Fit {
			r.Unfit = append(r.Unfit, fmt.Sprintf("%s: the rig's own spread takes %.0f %% of the room, %.0f %% are the most", c.Name, g.Percent, s.Terms.GRR))
		}
		r.Gauges = append(r.Gauges, g)
	}
	return r
}

// factors demands that nest, re-seat and day were varied as in the comparison.
func (r *Rig) factors(s Sample) {
	if r.Parts < s.Terms.Parts {
		r.Unfit = append(r.Unfit, fmt.Sprintf("the gauge study has %d boards, %d are the least", r.Parts, s.Terms.Parts))
	}
	if r.Days < 2 {
		r.Unfit = append(r.Unfit, "the gauge study was made on one day; what differs between days is not in it")
	}
	if r.Trials < 2 {
		r.Unfit = append(r.Unfit, "the gauge study has no re-seat: each board once in each nest a day")
	}
	seen := map[string]bool{}
	for _, t := range s.Gauge {
		seen[t.Place.nest()] = true
	}
	var missing []string
	for _, b := range s.Boards {
		if nest := b.Place.nest(); !seen[nest] {
			seen[nest] = true
			missing = append(missing, nest)
		}
	}
	if len(missing) > 0 {
		slices.Sort(missing)
		r.Unfit = append(r.Unfit, "boards were tested where no gauge study was made: "+strings.Join(missing, ", "))
	}
}

// newGauge separates the components three times: by nest and day together for
// what the rig spreads, by each alone for what it owes to which.
func newGauge(s Sample, i int) (Gauge, error) {
	by := func(appraiser func(Place) string) (gauge.Anova, error) {
		readings := make([]gauge.Reading, len(s.Gauge))
		for k, t := range s.Gauge {
			if math.IsNaN(t.Values[i]) {
				return gauge.Anova{}, fmt.Errorf("the gauge study has no value of board %s in %s", t.Part, t.Place.appraiser())
			}
			readings[k] = gauge.Reading{Part: t.Part, Appraiser: appraiser(t.Place), Value: t.Values[i]}
		}
		study, err := gauge.Arrange(readings)
		if err != nil {
			return gauge.Anova{}, err
		}
		return study.Analyze(gauge.Pooling, 1-s.Terms.Alpha), nil
	}
	all, err := by(Place.appraiser)
	if err != nil {
		return Gauge{}, err
	}
	nest, err := by(Place.nest)
	if err != nil {
		return Gauge{}, err
	}
	day, err := by(func(p Place) string { return p.Day })
	if err != nil {
		return Gauge{}, err
	}
	sum := 0.0
	for _, t := range s.Gauge {
		sum += t.Values[i] / float64(len(s.Gauge))
	}
	return Gauge{
		EV: all.EV, Nest: nest.Reproducibility(), Day: day.Reproducibility(), GRR: all.GRR, PV: all.PV,
		Percent: all.GRRPercentTolerance(2 * s.Characteristics[i].room(sum)),
	}, nil
}

// count is how many different names there are.
func count(list []Trial, name func(Trial) string) int {
	names := map[string]bool{}
	for _, t := range list {
		names[name(t)] = true
	}
	return len(names)
}
