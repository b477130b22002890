package page

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"strings"
	"sync"
)

//go:embed report.html.tmpl
var reportTemplate string

//go:embed summary.html.tmpl
var summaryTemplate string

//go:embed style.css
var styleSheet string

// templates are parsed once for the process; executing them is safe from any
// number of goroutines.
var templates = sync.OnceValues(func() (*template.Template, error) {
	t := template.New("page")
	for name, text := range map[string]string{"report": reportTemplate, "summary": summaryTemplate} {
		if _, err := t.New(name).Parse(text); err != nil {
			return nil, fmt.Errorf("page: parse the %s template: %w", name, err)
		}
	}
	return t, nil
})

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
	return execute("report", view)
}

func execute(name string, view any) ([]byte, error) {
	t, err := templates()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, name, view); err != nil {
		return nil, fmt.Errorf("page: write the %s page: %w", name, err)
	}
	return out.Bytes(), nil
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
