package page

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"reflect"
	"sync"

	"sinkproof/reports/page/plot"
)

//go:embed takt.html.tmpl
var taktTemplate string

// taktPage is parsed once for the process.
var taktPage = sync.OnceValues(func() (*template.Template, error) {
	t, err := template.New("takt").Parse(taktTemplate)
	if err != nil {
		return nil, fmt.Errorf("page: parse the takt template: %w", err)
	}
	return t, nil
})

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
	page, err := taktPage()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := page.Execute(&out, view); err != nil {
		return nil, fmt.Errorf("page: write the takt page: %w", err)
	}
	return out.Bytes(), nil
}
