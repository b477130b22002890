package page

import (
	_ "embed"
	"fmt"
	"html/template"
	"strings"
)

//go:embed report.html.tmpl
var reportTemplate string

//go:embed summary.html.tmpl
var summaryTemplate string

var (
	reportPage  = newForm("report", reportTemplate)
	summaryPage = newForm("summary", summaryTemplate)
)

// The size of a figure in points, on the page and in the PDF.
const (
	figureWidth  = bodyWidth
	figureHeight = 140
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
		Style        template.CSS
		CodeSVG      template.HTML
		FigureSVGs   []template.HTML
		Limitations  []string
		Cautions     []string
		ShortHash    string
		Verification string
		RiskLegend   string
	}{r, template.CSS(styleSheet), code, nil, Limitations(), Cautions(), short(r.Hash), verification, riskLegend}
	for _, f := range r.Figures {
		svg, err := f.SVG(figureWidth, figureHeight)
		if err != nil {
			return nil, err
		}
		view.FigureSVGs = append(view.FigureSVGs, template.HTML(svg))
	}
	return reportPage.fill(view)
}

// short is the beginning of a hash, enough to tell two reports on a desk
// apart.
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
