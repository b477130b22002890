package page

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality/chart"
	"sinkproof/reports/record"
)

// Golden is the view of a golden unit: what it answered, and whether its
// readings move.
type Golden struct {
	Title, Serial string
	Twin          bool
	// Lead says in a sentence what the charts show.
	Lead    string
	Tone    Tone
	Facts   []Row
	Answers []GoldenAnswer
	Series  []GoldenSeries
	Method  []string
	// Started dates the documents, RFC 3339.
	Started string
}

// GoldenAnswer is one run of the golden unit in a line.
type GoldenAnswer struct {
	Number, Started, Answer string
	Tone                    Tone
	Why                     string
}

// GoldenSeries is the value of one check over the runs.
type GoldenSeries struct {
	Title, Check string
	// Line says what the chart shows, in words.
	Line   string
	Tone   Tone
	Figure plot.Figure
}

// GoldenRun is a run of a golden unit as the page takes it.
type GoldenRun struct {
	record.Opening
	Answer     record.GoldenAnswer
	Deviations []string
}

// GoldenDrift is the series of one check as the page takes it.
type GoldenDrift struct {
	Check, Title, Unit string
	Values             []float64
	// Expected is the registered range; nil for none.
	Expected *record.ExpectedValue
	// Baseline is how many good answers gave the limits, 0 for too few.
	Baseline      int
	Chart, Spread chart.Chart
	// Moves tells that a rule was broken of late.
	Moves bool
}

// mostAnswers is how many of the latest answers the table shows; the charts
// show all.
const mostAnswers = 30

// NewGolden makes the view of a golden unit.
func NewGolden(g record.Golden, runs []GoldenRun, drift []GoldenDrift, rules []chart.Rule) Golden {
	v := Golden{
		Title: "Golden unit " + g.Serial, Serial: g.Serial, Twin: g.Bench.Kind == record.Twin, Started: g.Made, Tone: Good,
		Method: goldenMethod(rules),
	}
	v.Facts = filled([]Row{
		{"Golden unit", g.Serial + ", " + g.Title}, {"Known fault", g.Fault}, {"Product", g.Product}, {"Bench", g.Bench.Name},
		{"Expected", expectedText(g.Expected)}, {"A good answer stands for", hoursText(g.ValidS)},
		{"Registered", startText(g.Made) + ", by " + g.By}, {"Registration", g.ID},
	})
	right := 0
	for i, r := range runs {
		a := GoldenAnswer{Number: fmt.Sprint(i + 1), Started: startText(r.Started), Answer: "no answer", Tone: Open, Why: strings.Join(r.Deviations, "; ")}
		switch r.Answer {
		case record.AsExpected:
			a.Answer, a.Tone = "as expected", Good
			right++
		case record.Deviates:
			a.Answer, a.Tone = "DEVIATES", Bad
		}
		v.Answers = append(v.Answers, a)
		v.Started = r.Started
	}
	v.Answers = v.Answers[max(0, len(v.Answers)-mostAnswers):]
	var moves []string
	charted := 0
	for _, d := range drift {
		s := seriesOf(d)
		v.Series = append(v.Series, s)
		if d.Baseline > 0 {
			charted++
		}
		if s.Tone == Bad {
			moves = append(moves, d.Check)
		}
	}
	// What moves comes first.
	slices.SortStableFunc(v.Series, func(a, b GoldenSeries) int {
		return cmp.Compare(rankOf(a), rankOf(b))
	})
	v.Lead = fmt.Sprintf("%d of %d runs answered as expected. ", right, len(runs))
	switch {
	case len(moves) > 0:
		v.Tone = Bad
		v.Lead += "Readings move: " + fewNames(moves) + ". The board is always the same; look at what the bench reads them with."
	case charted > 0:
		v.Lead += fmt.Sprintf("The readings of its %d checks with a value do not move.", charted)
	default:
		v.Tone = Open
		v.Lead += "There are too few answers for a chart."
	}
	return v
}

func rankOf(s GoldenSeries) int {
	if s.Tone == Bad {
		return 0
	}
	return 1
}

// fewNames names three and counts the others.
func fewNames(names []string) string {
	const most = 3
	if len(names) <= most+1 {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
}

func goldenMethod(rules []chart.Rule) []string {
	var names []string
	for _, r := range rules {
		names = append(names, fmt.Sprintf("%s (by chance once in %.0f points)", ruleText(r), 1/r.FalseAlarms()))
	}
	return []string{
		"Control charts of single values: the centre is the mean of the first good answers, 20 at most, the limits lie three standard deviations away, worked out from the mean moving range (Montgomery, Introduction to Statistical Quality Control, 6.4). Later values are held against them. Answers that deviate are charted and give no limit. Where the values hardly scatter, a tenth of their standard uncertainty is taken for the standard deviation, and what is nearer to the centre than that counts as on it.",
		"A series moves where one of these patterns is seen: " + strings.Join(names, "; ") + ". With many checks a pattern by chance is to be expected now and then; one that stays is none. What was seen before the latest ten runs counts no more.",
		"Control limits say what the board used to read; they are narrower than the limits of the scenario, so that a bench that moves is seen before it judges wrongly.",
	}
}

func seriesOf(d GoldenDrift) GoldenSeries {
	s := GoldenSeries{Title: tie(d.Title), Check: d.Check, Tone: Plain, Figure: plot.Figure{
		Title: d.Check, X: plot.Axis{Name: "run", Floating: true}, Y: plot.Axis{Name: "value", Unit: d.Unit, Floating: true},
	}}
	for i, v := range d.Values {
		s.Figure.Curve = append(s.Figure.Curve, plot.Point{X: float64(i + 1), Y: v})
	}
	if e := d.Expected; e != nil {
		s.Figure.Levels = append(s.Figure.Levels, plot.Level{Label: "expected from", Y: e.Lower}, plot.Level{Label: "expected to", Y: e.Upper})
	}
	if d.Baseline == 0 {
		s.Line = fmt.Sprintf("%d values: too few good answers for limits.", len(d.Values))
		return s
	}
	low, high := d.Chart.Centre, d.Chart.Centre
	if len(d.Chart.Points) > 0 {
		low, high = d.Chart.Points[0].Lower, d.Chart.Points[0].Upper
	}
	s.Figure.Levels = append(s.Figure.Levels, plot.Level{Label: "upper limit", Y: high}, plot.Level{Label: "centre", Y: d.Chart.Centre}, plot.Level{Label: "lower limit", Y: low})
	broken := brokenText(d)
	s.Line, s.Tone = fmt.Sprintf("%d values, limits from the first %d good answers: %s to %s. It does not move.",
		len(d.Values), d.Baseline, inUnit(low, d.Unit, 5), inUnit(high, d.Unit, 5)), Good
	switch {
	case d.Moves:
		s.Tone = Bad
		s.Line = strings.TrimSuffix(s.Line, "It does not move.") + "It moves: " + broken + "."
	case broken != "":
		s.Line = strings.TrimSuffix(s.Line, "It does not move.") + "It moved (" + broken + ") and reads as before since."
	}
	for i, n := range d.Chart.Out() {
		if i == 0 {
			s.Figure.Marks = append(s.Figure.Marks, plot.Mark{Label: fmt.Sprintf("run %d", n), X: float64(n)})
		}
	}
	return s
}

// brokenText says where which rule is broken first, and how often.
func brokenText(d GoldenDrift) string {
	var texts []string
	seen := map[chart.Rule]int{}
	for _, p := range d.Chart.Points {
		for _, r := range p.Violations {
			if seen[r]++; seen[r] == 1 {
				texts = append(texts, fmt.Sprintf("%s at run %d", ruleText(r), p.Index))
			}
		}
	}
	if out := d.Spread.Out(); len(out) > 0 {
		texts = append(texts, fmt.Sprintf("jump at run %d", out[0]+1))
	}
	return strings.Join(texts, ", ")
}

// ruleText is the name of a rule in words.
func ruleText(r chart.Rule) string { return strings.ReplaceAll(r.String(), "-", " ") }

// expectedText says in words what a golden unit is expected to answer.
func expectedText(e record.Expected) string {
	parts := []string{"verdict " + string(e.Verdict)}
	if len(e.Fails) > 0 {
		parts = append(parts, strings.Join(e.Fails, ", ")+" must fail")
	}
	if len(e.MayFail) > 0 {
		parts = append(parts, strings.Join(e.MayFail, ", ")+" may fail")
	}
	for _, v := range e.Values {
		parts = append(parts, fmt.Sprintf("%s from %s to %s", v.Check, inUnit(v.Lower, v.Unit, 5), inUnit(v.Upper, v.Unit, 5)))
	}
	return strings.Join(parts, "; ")
}

func hoursText(seconds int64) string {
	if seconds%3600 == 0 {
		return fmt.Sprintf("%d h", seconds/3600)
	}
	return fmt.Sprintf("%.1f h", float64(seconds)/3600)
}
