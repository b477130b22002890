package main

import (
	"fmt"
	"strconv"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
)

// mostFailing is how many checks the picture shows; the table has them all.
const mostFailing = 15

// view lays the yield out: what passed, and the checks by how often they failed.
func (r yieldReport) view(of string) page.Study {
	v := page.Study{
		Kind: "Yield", Title: "What passed, and which checks failed most",
		Simulated: r.simulated(),
		Lead:      fmt.Sprintf("%d runs%s: %d passed, %d failed, %d without verdict.", r.Runs, of, r.Passed, r.Failed, r.NoVerdict),
		Method: []string{
			"First-pass yield: the share of serials whose first run passed, with its exact interval at 95 % (Clopper and Pearson, 1934).",
			"A run that fails several checks counts in each of them. Records under suspicion are left out.",
		},
	}
	facts := []page.Row{{Label: "runs", Text: strconv.Itoa(r.Runs)}}
	if r.Yield != nil {
		facts = append(facts, page.Row{Label: "first-pass yield", Text: fmt.Sprintf("%s (%s to %s), %d of %d", share(*r.Yield), share(*r.Low), share(*r.High), r.FirstPassed, r.First)})
	}
	section := page.StudySection{Facts: facts}
	if len(r.Fails) > 0 {
		section.Figures = []page.StudyFigure{{Figure: r.pareto()}}
		section.Tables = []page.StudyTable{r.failing()}
	}
	v.Sections = []page.StudySection{section}
	return v
}

// fails counts the fails of all checks.
func (r yieldReport) fails() int {
	sum := 0
	for _, f := range r.Fails {
		sum += f.Runs
	}
	return sum
}

// pareto shows the checks that failed most, and what they are together of all fails.
func (r yieldReport) pareto() plot.Figure {
	f := plot.Figure{
		Title: "Failed checks, the most frequent first", Note: "the numbers are those of the table",
		X: plot.Axis{Name: "check"}, Y: plot.Axis{Name: "share of all fails", Unit: "%"},
	}
	bars := plot.Series{Name: "this check", Shape: plot.Bars, Ink: plot.Blue, Width: 0.7}
	line := plot.Series{Name: "this one and those before", Shape: plot.Line, Ink: plot.Orange}
	all, sum := r.fails(), 0
	for i, x := range r.Fails[:min(len(r.Fails), mostFailing)] {
		sum += x.Runs
		at := float64(i + 1)
		bars.Points = append(bars.Points, plot.Point{X: at, Y: 100 * float64(x.Runs) / float64(all)})
		line.Points = append(line.Points, plot.Point{X: at, Y: 100 * float64(sum) / float64(all)})
		f.XTicks = append(f.XTicks, plot.Tick{At: at, Label: strconv.Itoa(i + 1)})
	}
	dots := line
	dots.Name, dots.Shape = "", plot.Dots
	f.Series = []plot.Series{bars, line, dots, {Shape: plot.Room, Points: []plot.Point{{X: 0.4, Y: 0}, {X: float64(len(f.XTicks)) + 0.6, Y: 100}}}}
	return f
}

func (r yieldReport) failing() page.StudyTable {
	t := tableOf("Failed checks", "", ">", "Check", ">Runs", ">Of all runs", ">Of all fails", ">With those before")
	all, sum := r.fails(), 0
	for i, x := range r.Fails {
		sum += x.Runs
		t.Rows = append(t.Rows, toned(page.Plain, strconv.Itoa(i+1), x.Check, strconv.Itoa(x.Runs),
			share(float64(x.Runs)/float64(r.Runs)), share(float64(x.Runs)/float64(all)), share(float64(sum)/float64(all))))
	}
	return t
}
