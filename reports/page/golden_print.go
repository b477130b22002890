package page

import (
	_ "embed"
	"html/template"
	"reflect"

	"sinkproof/reports/page/plot"
)

//go:embed golden.html.tmpl
var goldenTemplate string

var goldenPage = newForm("golden unit", goldenTemplate)

// goldenHeight is the height of a chart.
const goldenHeight = 120.0

// drawn tells whether a chart says anything: one point makes no curve.
func (s GoldenSeries) drawn() bool { return len(s.Figure.Curve) > 1 }

// HTML returns the golden unit as one self-contained page.
func (g Golden) HTML() ([]byte, error) {
	g = clone(reflect.ValueOf(g)).Interface().(Golden)
	replace(reflect.ValueOf(&g).Elem(), plot.Visible)
	type series struct {
		GoldenSeries
		SVG template.HTML
	}
	view := struct {
		Golden
		Style template.CSS
		Each  []series
	}{Golden: g, Style: template.CSS(styleSheet)}
	for _, s := range g.Series {
		one := series{GoldenSeries: s}
		if s.drawn() {
			svg, err := s.Figure.SVG(figureWidth, goldenHeight)
			if err != nil {
				return nil, err
			}
			one.SVG = template.HTML(svg)
		}
		view.Each = append(view.Each, one)
	}
	return goldenPage.fill(view)
}

// PDF returns the golden unit for printing.
func (g Golden) PDF() ([]byte, error) {
	g = clone(reflect.ValueOf(g)).Interface().(Golden)
	replace(reflect.ValueOf(&g).Elem(), plot.Printable)
	s, err := newSheet(g.Title, "Golden unit  ·  "+g.Serial, "made by sinkproof from signed entries of the ledger", g.Started)
	if err != nil {
		return nil, err
	}
	s.font(9.5, "")
	s.colour(quiet)
	s.pdf.Text(marginLeft, s.y+12, "Golden unit")
	s.y += 16
	s.set(words{g.Serial, 17, "B", inkText}, 0)
	s.y += 8
	if g.Twin {
		s.box(open, goldenTwin)
	}
	s.set(words{g.Lead, 10.5, "", g.Tone.tint()}, 0)
	s.y += 6
	s.facts(g.Facts, 1)
	s.heading("Readings over the runs", goldenHeight+40)
	for _, k := range g.Series {
		if err := k.print(s); err != nil {
			return nil, err
		}
	}
	g.printAnswers(s)
	s.heading("How this was found", 40)
	for _, m := range g.Method {
		s.paragraph("•", m, 8, inkText)
	}
	return s.bytes()
}

// goldenTwin stands on every page of a golden unit of the twin.
const goldenTwin = "Simulated bench. Rig and golden unit are those of the twin. This page is no evidence about a bench that exists."

func (k GoldenSeries) print(s *sheet) error {
	s.room(goldenHeight + 34)
	s.set(words{k.Title, 9.5, "B", inkText}, 0)
	s.set(words{k.Line, 8.5, "", k.Tone.tint()}, 0)
	s.y += 2
	if k.drawn() {
		if err := k.Figure.Draw(s.pdf, marginLeft, s.y, figureWidth, goldenHeight); err != nil {
			return err
		}
		s.y += goldenHeight
	}
	s.y += 8
	return nil
}

func (g Golden) printAnswers(s *sheet) {
	s.heading("Answers", 60)
	grid := &grid{sheet: s, columns: []columnOf{
		{title: "Run", width: 30, right: true}, {title: "Started", width: 120}, {title: "Answer", width: 70}, {title: "What was not as expected", width: bodyWidth - 220},
	}}
	grid.head()
	for _, a := range g.Answers {
		grid.plain([]cell{
			{text: a.Number, tone: Plain}, {text: a.Started, tone: Plain}, {text: a.Answer, bold: true, tone: a.Tone}, {text: a.Why, tone: Plain},
		})
	}
}
