package page

import (
	_ "embed"
	"html/template"
	"reflect"

	"sinkproof/reports/page/plot"
)

//go:embed coverage.html.tmpl
var coverageTemplate string

var coveragePage = newForm("coverage", coverageTemplate)

// The size of a curve, two of which stand beside each other.
const (
	curveWidth  = 247.0
	curveHeight = 150.0
)

// HTML returns the study as one self-contained page: no script, no external
// reference.
func (c Coverage) HTML() ([]byte, error) {
	c = clone(reflect.ValueOf(c)).Interface().(Coverage)
	replace(reflect.ValueOf(&c).Elem(), plot.Visible)
	view := struct {
		Coverage
		Style              template.CSS
		RateSVGs, HeatSVGs []template.HTML
		CurveSVGs          []template.HTML
		LimitSVG           template.HTML
	}{Coverage: c, Style: template.CSS(styleSheet), LimitSVG: template.HTML(limitChart(c.Limits).svg())}
	for _, k := range rateCharts(c.Rates) {
		view.RateSVGs = append(view.RateSVGs, template.HTML(k.svg()))
	}
	for _, k := range heatMaps(c.Heat) {
		view.HeatSVGs = append(view.HeatSVGs, template.HTML(k.svg()))
	}
	for _, f := range c.Curves {
		svg, err := f.SVG(curveWidth, curveHeight)
		if err != nil {
			return nil, err
		}
		view.CurveSVGs = append(view.CurveSVGs, template.HTML(svg))
	}
	return coveragePage.fill(view)
}
