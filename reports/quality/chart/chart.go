package chart

import (
	"fmt"
	"math"

	"sinkproof/reports/quality"
)

// Point is one plotted statistic.
type Point struct {
	Index        int // from 1
	Value        float64
	Lower, Upper float64
	Centre       float64
	Violations   []Rule // broken at this point, in the order of the rules
}

// Out reports whether a rule is broken at the point.
func (p Point) Out() bool { return len(p.Violations) > 0 }

// Chart is a series of points. Lower and Upper are NaN when they differ from
// point to point.
type Chart struct {
	Centre, Lower, Upper float64
	Points               []Point
}

// Out returns the indices of points at which a rule is broken, from 1.
func (c Chart) Out() []int {
	var out []int
	for _, p := range c.Points {
		if p.Out() {
			out = append(out, p.Index)
		}
	}
	return out
}

// plotted is a statistic before it is judged: value, centre and one standard
// deviation, and the least it can be.
type plotted struct {
	value, centre, sigma, least float64
}

// chartOf draws limits at three standard deviations and marks violations.
func chartOf(series []plotted, rules []Rule) Chart {
	c := Chart{Lower: math.NaN(), Upper: math.NaN(), Centre: math.NaN()}
	z, values := make([]float64, len(series)), make([]float64, len(series))
	for i, s := range series {
		c.Points = append(c.Points, Point{Index: i + 1, Value: s.value, Centre: s.centre,
			Lower: math.Max(s.least, s.centre-3*s.sigma), Upper: s.centre + 3*s.sigma})
		z[i], values[i] = standardized(s), s.value
	}
	for _, r := range rules {
		for _, at := range r.Broken(z, values) {
			p := &c.Points[at-1]
			p.Violations = append(p.Violations, r)
		}
	}
	c.common()
	return c
}

// standardized returns the distance from the centre in standard deviations; a
// point off the centre of a process without spread is infinitely far.
func standardized(s plotted) float64 {
	if d := s.value - s.centre; s.sigma > 0 || d != 0 {
		return d / s.sigma
	}
	return 0
}

// common fills the chart's own limits, where all points share them.
func (c *Chart) common() {
	if len(c.Points) == 0 {
		return
	}
	first := c.Points[0]
	c.Centre, c.Lower, c.Upper = first.Centre, first.Lower, first.Upper
	for _, p := range c.Points {
		if p.Centre != first.Centre {
			c.Centre = math.NaN()
		}
		if p.Lower != first.Lower || p.Upper != first.Upper {
			c.Lower, c.Upper = math.NaN(), math.NaN()
			return
		}
	}
}

// usable checks every subgroup.
func usable(subgroups [][]float64) error {
	if len(subgroups) == 0 {
		return fmt.Errorf("control chart: no subgroup: %w", quality.ErrSample)
	}
	for i, g := range subgroups {
		if err := quality.Usable(g, 1); err != nil {
			return fmt.Errorf("control chart: subgroup %d: %w", i+1, err)
		}
	}
	return nil
}
