package page

import (
	_ "embed"
	"html/template"
	"reflect"

	"sinkproof/reports/page/plot"
)

//go:embed takt.html.tmpl
var taktTemplate string

var taktPage = newForm("takt", taktTemplate)

// HTML returns the timeline as one self-contained page: no script, no external
// reference.
func (t Takt) HTML() ([]byte, error) {
	t = clone(reflect.ValueOf(t)).Interface().(Takt)
	replace(reflect.ValueOf(&t).Elem(), plot.Visible)
	type drawn struct {
		Title, Note string
		SVGs        []template.HTML
	}
	view := struct {
		Takt
		Style             template.CSS
		LegendSVG, RunSVG template.HTML
		ChartSVGs         []drawn
	}{Takt: t, Style: template.CSS(styleSheet), LegendSVG: template.HTML(t.legend().svg()), RunSVG: template.HTML(t.bars().svg())}
	for _, c := range t.Charts {
		x := drawn{Title: c.Title, Note: c.Note()}
		for _, k := range c.pieces() {
			x.SVGs = append(x.SVGs, template.HTML(k.svg()))
		}
		view.ChartSVGs = append(view.ChartSVGs, x)
	}
	return taktPage.fill(view)
}
