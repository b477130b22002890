package page

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"strings"
)

//go:embed report.html.tmpl
var reportTemplate string

//go:embed summary.html.tmpl
var summaryTemplate string

//go:embed style.css
var styleSheet string

// figureWidth and figureHeight are the size of a figure in points, on the
// page and in the PDF.
const (
	figureWidth  = 500
	figureHeight = 190
)

// HTML returns the report as one self-contained page: no script, no external
// reference, readable without a network in ten years.
func (r Report) HTML() ([]byte, error) {
	code, err := codeSVG(r.Code)
	if err != nil {
		return nil, err
	}
	view := struct {
		Report
		Style       template.CSS
		CodeSVG     template.HTML
		FigureSVGs  []template.HTML
		Limitations []string
		Cautions    []string
		ShortHash   string
	}{r, css(), code, nil, Limitations(), Cautions(), short(r.Hash)}
	for _, f := range r.Figures {
		svg, err := f.SVG(figureWidth, figureHeight)
		if err != nil {
			return nil, err
		}
		view.FigureSVGs = append(view.FigureSVGs, template.HTML(svg))
	}
	return execute("report", reportTemplate, view)
}

func execute(name, text string, view any) ([]byte, error) {
	t, err := template.New(name).Parse(text)
	if err != nil {
		return nil, fmt.Errorf("page: parse the %s template: %w", name, err)
	}
	var out bytes.Buffer
	if err := t.Execute(&out, view); err != nil {
		return nil, fmt.Errorf("page: write the %s page: %w", name, err)
	}
	return out.Bytes(), nil
}

func css() template.CSS { return template.CSS(styleSheet) }

func short(hash string) string {
	if len(hash) > 12 {
		return hash[:12]
	}
	return hash
}

// codeSVG draws the DataMatrix with the quiet zone of one module that ISO/IEC
// 16022 asks for.
func codeSVG(text string) (template.HTML, error) {
	m, err := matrixOf(text)
	if err != nil {
		return "", err
	}
	var path strings.Builder
	m.runs(func(x, y, width int) {
		fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", x+1, y+1, width, width)
	})
	return template.HTML(fmt.Sprintf(
		`<svg class="code" role="img" aria-label="DataMatrix of serial and record hash" viewBox="0 0 %d %d" shape-rendering="crispEdges"><path d="%s"/></svg>`,
		len(m[0])+2, len(m)+2, path.String())), nil
}
