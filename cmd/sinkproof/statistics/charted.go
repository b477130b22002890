package statistics

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/chart"
	"sinkproof/reports/quality/moments"
)

// charted is a chart with what is shown of it.
type charted struct {
	main   chart.Chart
	spread *chart.Chart
	// names of what is plotted.
	mainName, spreadName string
	labels               []string
	sigma                float64
	rules                []chart.Rule
	// alarms are the false alarms per point of each rule alone; NaN where the
	// points are not independent.
	alarms []float64
	// runLength is the mean number of points between false alarms.
	runLength float64
	// lower and upper are the limits of the whole chart.
	lower, upper float64
	cusum        *chart.Cusum
}

// parseSize reads a size that is the same for all.
func parseSize(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v > 0) || math.IsInf(v, 0) {
		return 0, errors.New("no size")
	}
	return v, nil
}

// charted is the chart of one group.
func (f *chartFlags) charted(t *table, rules []chart.Rule) (finding, error) {
	var c charted
	var err error
	kind, counts := f.counts()
	switch {
	case counts:
		c, err = f.ofCounts(t, kind, rules)
	case f.kind == "ewma" || f.kind == "cusum":
		c, err = f.withMemory(t)
	default:
		c, err = f.ofValues(t, rules)
	}
	if err != nil {
		var said *Trouble
		if errors.As(err, &said) {
			return finding{}, err
		}
		return finding{}, trouble("", "%s: %w", t.source, err)
	}
	return f.answer(t, c), nil
}

// first are the points that make the limits.
func (f *chartFlags) first(n int) (int, error) {
	if f.phase1 > n {
		return 0, trouble("", "--phase1 %d, but there are %s", f.phase1, counted(n, "point"))
	}
	if f.phase1 == 0 {
		return n, nil
	}
	return f.phase1, nil
}

// ofValues charts measured values.
func (f *chartFlags) ofValues(t *table, rules []chart.Rule) (charted, error) {
	if err := t.enough(2); err != nil {
		return charted{}, err
	}
	kind := map[string]chart.Kind{"xbar-r": chart.XbarR, "xbar-s": chart.XbarS, "individuals": chart.Individuals}[f.kind]
	c := charted{rules: rules, mainName: "mean", spreadName: map[chart.Kind]string{chart.XbarR: "range", chart.XbarS: "standard deviation", chart.Individuals: "moving range"}[kind]}
	groups := [][]float64{t.values}
	if kind == chart.Individuals {
		c.mainName = "value"
	} else {
		c.labels, groups = t.subgroups(0)
	}
	b, err := f.baseline(t, kind, groups)
	if err != nil {
		return c, err
	}
	pair, err := b.Variables(kind, groups, rules)
	if err != nil {
		return c, err
	}
	c.main, c.spread, c.sigma = pair.Location, &pair.Spread, pair.Sigma
	c.lower, c.upper = c.main.Lower, c.main.Upper
	c.runLength = lengthOf(rules)
	return c, nil
}

// baseline is the mean and the spread that the chart stands on.
func (f *chartFlags) baseline(t *table, kind chart.Kind, groups [][]float64) (chart.Baseline, error) {
	if f.target.set && f.sigma.set {
		return chart.Baseline{Mean: f.target.value, Sigma: f.sigma.value}, nil
	}
	points := len(groups)
	if kind == chart.Individuals {
		points = len(t.values)
	}
	n, err := f.first(points)
	if err != nil {
		return chart.Baseline{}, err
	}
	if kind == chart.Individuals {
		groups, n = [][]float64{t.values[:n]}, 1
	}
	b, err := chart.Estimate(kind, groups[:n])
	if err != nil {
		return b, err
	}
	b.Mean, b.Sigma = f.target.or(b.Mean), f.sigma.or(b.Sigma)
	if b.Sigma == 0 {
		return b, trouble("look at how the values were taken and rounded, or give --sigma", "%s: zero spread in the values of %q that the limits come from", t.source, t.column)
	}
	return b, nil
}

// lengthOf is the mean run length of rules together; NaN where it is not known.
func lengthOf(rules []chart.Rule) float64 {
	length, err := chart.RunLength(rules, 0)
	if err != nil {
		return math.NaN()
	}
	return length
}

// ofCounts charts counts.
func (f *chartFlags) ofCounts(t *table, kind chart.Count, rules []chart.Rule) (charted, error) {
	c := charted{rules: rules, sigma: math.NaN(), runLength: math.NaN(),
		mainName: map[chart.Count]string{chart.P: "fraction bad", chart.NP: "number bad", chart.C: "faults", chart.U: "faults per unit"}[kind]}
	counts, sizes := t.values, f.sizes(t)
	if f.subgroup != "" {
		c.labels, counts, sizes = t.sums(sizes)
	}
	if kind == chart.C {
		sizes = nil
	}
	n, err := f.first(len(counts))
	if err != nil {
		return c, err
	}
	var phase1 []float64
	if sizes != nil {
		phase1 = sizes[:n]
	}
	rate, err := chart.Rate(kind, counts[:n], phase1)
	if err != nil {
		return c, err
	}
	c.main, err = chart.AttributesAround(f.target.or(rate), kind, counts, sizes, rules)
	c.lower, c.upper = c.main.Lower, c.main.Upper
	return c, err
}

// sizes are those of each row: of a column, of the flag, or one unit each.
func (f *chartFlags) sizes(t *table) []float64 {
	if len(t.numbers) > 0 {
		return t.numbers[0]
	}
	each := 1.0
	if v, err := parseSize(f.size); err == nil {
		each = v
	}
	return slices.Repeat([]float64{each}, len(t.values))
}

// sums adds counts and sizes up by the first column of texts.
func (t *table) sums(each []float64) (names []string, counts, sizes []float64) {
	place := map[int32]int{}
	for i, v := range t.values {
		code := t.codes[0][i]
		at, ok := place[code]
		if !ok {
			at = len(names)
			place[code] = at
			names, counts, sizes = append(names, t.texts[0][code]), append(counts, 0), append(sizes, 0)
		}
		counts[at] += v
		sizes[at] += each[i]
	}
	return names, counts, sizes
}

// The usual numbers of charts with memory (Montgomery, 9.1 and 9.2).
const (
	usualWeight   = 0.2
	usualWidth    = 3
	usualSlack    = 0.5 // standard deviations
	usualDecision = 5
)

// withMemory charts weighted averages or cumulated sums, of values or of the
// means of subgroups.
func (f *chartFlags) withMemory(t *table) (charted, error) {
	c := charted{mainName: "weighted average", rules: []chart.Rule{chart.BeyondLimits}}
	if f.subgroup != "" {
		c.labels, _ = t.subgroups(0)
	}
	values, b, err := f.plotted(t)
	if err != nil {
		return c, err
	}
	c.sigma = b.Sigma
	if f.kind == "ewma" {
		weight, width := f.weight.or(usualWeight), f.width.or(usualWidth)
		e, err := chart.Moving(values, b.Mean, b.Sigma, weight, width)
		if err != nil {
			return c, err
		}
		c.main, c.lower, c.upper = e.Chart, e.AsymptoticLower, e.AsymptoticUpper
		c.runLength = chart.MovingRunLength(weight, width, 0)
		return c, nil
	}
	c.mainName = "cumulated sum"
	slack, decision := f.slack.or(usualSlack*b.Sigma), f.decision.or(usualDecision*b.Sigma)
	sum, err := chart.Cumulate(values, b.Mean, slack, decision)
	if err != nil {
		return c, err
	}
	c.main, c.cusum, c.lower, c.upper = sum.Chart, &sum, sum.Lower, sum.Upper
	if !math.IsNaN(b.Sigma) {
		c.runLength = chart.CusumRunLength(slack/b.Sigma, decision/b.Sigma, 0)
	}
	return c, nil
}

// plotted are the values of a chart with memory, with their mean and standard
// deviation: known, or those of the first points. A cusum whose numbers are all
// given needs no standard deviation.
func (f *chartFlags) plotted(t *table) ([]float64, chart.Baseline, error) {
	values, groups, size := t.values, [][]float64{t.values}, 1
	if f.subgroup != "" {
		_, groups = t.subgroups(0)
		values = nil
		size = len(groups[0])
		for _, g := range groups {
			values = append(values, moments.Of(g).Mean())
			if len(g) != size && !f.sigma.set {
				return nil, chart.Baseline{}, trouble("--sigma of the means, or subgroups of one size", "%s: subgroups of %d and %d values have means of different spread", t.source, size, len(g))
			}
		}
	}
	n, err := f.first(len(values))
	if err != nil {
		return nil, chart.Baseline{}, err
	}
	b := chart.Baseline{Mean: f.target.or(moments.Of(values[:n]).Mean()), Sigma: f.sigma.or(math.NaN())}
	needless := f.kind == "cusum" && f.target.set && f.slack.set && f.decision.set
	if f.sigma.set || needless {
		return values, b, nil
	}
	if err := t.enough(2); err != nil {
		return nil, b, err
	}
	kind, within := chart.Individuals, [][]float64{values[:n]}
	if size > 1 {
		kind, within = chart.XbarS, groups[:n]
	}
	e, err := chart.Estimate(kind, within)
	if err != nil {
		return nil, b, err
	}
	b.Sigma = e.Sigma / math.Sqrt(float64(size))
	if b.Sigma == 0 {
		return nil, b, trouble("look at how the values were taken and rounded, or give --sigma", "%s: zero spread in the values of %q that the limits come from", t.source, t.column)
	}
	return values, b, nil
}

// answer makes the finding of a chart.
func (f *chartFlags) answer(t *table, c charted) finding {
	var out finding
	out.fields.add("kind", f.kind)
	out.fields.number("centre", c.main.Centre)
	out.fields.number("lower", c.lower)
	out.fields.number("upper", c.upper)
	out.fields.number("sigma", c.sigma)
	if c.spread != nil {
		out.fields.number("spread_centre", c.spread.Centre)
		out.fields.number("spread_lower", c.spread.Lower)
		out.fields.number("spread_upper", c.spread.Upper)
	}
	out.fields.add("points", c.pointsOf(c.main, 0))
	if c.spread != nil {
		out.fields.add("spread_points", c.pointsOf(*c.spread, len(c.main.Points)-len(c.spread.Points)))
	}
	broken := c.main.Out()
	out.fields.add("out", append([]int{}, broken...))
	var rules []fields
	for _, r := range c.rules {
		x, alarms := fields{{name: "name", value: r.String()}}, math.NaN()
		if f.kind != "ewma" && f.kind != "cusum" {
			alarms = r.FalseAlarms()
		}
		x.number("false_alarms", alarms)
		rules, c.alarms = append(rules, x), append(c.alarms, alarms)
	}
	out.fields.add("rules", listOf(rules))
	out.fields.number("run_length", c.runLength)
	out.section.Facts = append(f.facts(c, broken), t.leftRows()...)
	out.section.Tables = c.tables()
	out.draw = func() (figures, error) { return drawChart(t, c) }
	if f.judge {
		out.judge(len(broken) == 0 && (c.spread == nil || len(c.spread.Out()) == 0), brokenWords(c, broken))
	}
	return out
}

func brokenWords(c charted, broken []int) string {
	text := "no rule is broken"
	if len(broken) > 0 {
		text = fmt.Sprintf("a rule is broken at %s of %d", counted(len(broken), "point"), len(c.main.Points))
	}
	if c.spread != nil {
		if out := c.spread.Out(); len(out) > 0 {
			text += fmt.Sprintf(", and the %s is beyond its limits at %s", c.spreadName, counted(len(out), "point"))
		}
	}
	return text
}

// pointsOf lists the points of a chart. Those of a moving range begin skip
// points later and have no labels.
func (c charted) pointsOf(ch chart.Chart, skip int) objects {
	var none any = []string{}
	buffer := make(fields, 0, 9)
	return objects{len(ch.Points), func(i int) fields {
		p := ch.Points[i]
		x := buffer[:0]
		x.add("index", p.Index)
		if skip == 0 && p.Index <= len(c.labels) {
			x.add("label", c.labels[p.Index-1])
		}
		x.number("value", p.Value)
		x.number("lower", p.Lower)
		x.number("upper", p.Upper)
		if c.cusum != nil {
			x.number("high", c.cusum.High[i])
			x.number("low", c.cusum.Low[i])
			x.number("sum", c.cusum.Sum[i])
		}
		if p.Out() {
			x.add("violations", names(p.Violations))
		} else {
			x.add("violations", none)
		}
		return x
	}}
}

func names(rules []chart.Rule) []string {
	out := []string{}
	for _, r := range rules {
		out = append(out, r.String())
	}
	return out
}

func (f *chartFlags) facts(c charted, broken []int) []page.Row {
	limits := show(c.lower) + " to " + show(c.upper)
	if math.IsNaN(c.lower) {
		limits = "differ from point to point"
	}
	facts := []page.Row{
		{Label: "points", Text: whole(len(c.main.Points))},
		{Label: "centre", Text: show(c.main.Centre)},
		{Label: "limits", Text: limits},
	}
	if f.kind == "ewma" {
		facts[2].Text += " in the end"
	}
	if !math.IsNaN(c.sigma) {
		facts = append(facts, page.Row{Label: "sigma", Text: show(c.sigma)})
	}
	if c.spread != nil {
		text := fmt.Sprintf("centre %s, limits %s to %s", show(c.spread.Centre), show(c.spread.Lower), show(c.spread.Upper))
		if math.IsNaN(c.spread.Lower) {
			text = "limits differ from point to point"
		}
		facts = append(facts, page.Row{Label: c.spreadName, Text: text})
	}
	facts = append(facts, page.Row{Label: "rules broken", Text: brokenWords(c, broken)})
	if !math.IsNaN(c.runLength) {
		facts = append(facts, page.Row{Label: "false alarms", Text: fmt.Sprintf("one in %s points of a stable process on average", digits(c.runLength, 4))})
	}
	return facts
}

// mostListed is how many broken points a table lists.
const mostListed = 50

// tables are the points at which a rule is broken, and the rules.
func (c charted) tables() []page.StudyTable {
	t := page.StudyTable{Title: "Points at which a rule is broken", Columns: []page.StudyColumn{right("Point"), left("Subgroup"), right("Value"), right("Lower"), right("Upper"), left("Rules")}}
	more := 0
	add := func(p chart.Point, label, what string) {
		if !p.Out() {
			return
		}
		if len(t.Rows) == mostListed {
			more++
			return
		}
		t.Rows = append(t.Rows, page.StudyRow{Cells: []string{whole(p.Index), label, show(p.Value), show(p.Lower), show(p.Upper), what + strings.Join(names(p.Violations), ", ")}, Tone: page.Bad})
	}
	for _, p := range c.main.Points {
		label := ""
		if p.Index <= len(c.labels) {
			label = c.labels[p.Index-1]
		}
		add(p, label, "")
	}
	if c.spread != nil {
		for _, p := range c.spread.Points {
			add(p, "", c.spreadName+": ")
		}
	}
	if more > 0 {
		t.Note = fmt.Sprintf("and %d more", more)
	}
	var out []page.StudyTable
	if len(t.Rows) > 0 {
		out = append(out, t)
	}
	if len(c.rules) < 2 {
		return out
	}
	rules := page.StudyTable{Title: "Rules", Columns: []page.StudyColumn{left("Rule"), right("False alarms per 1000 points")}}
	for i, r := range c.rules {
		rules.Rows = append(rules.Rows, row(r.String(), digits(1000*c.alarms[i], 3)))
	}
	return append(out, rules)
}
