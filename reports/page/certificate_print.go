package page

import (
	_ "embed"
	"html/template"
	"reflect"

	"sinkproof/reports/page/plot"
)

//go:embed certificate.html.tmpl
var certificateTemplate string

var certificatePage = newForm("certificate", certificateTemplate)

// certificateHeight is the height of a channel's figure.
const certificateHeight = 120.0

// HTML returns the certificate as one self-contained page.
func (c Certificate) HTML() ([]byte, error) {
	c = clone(reflect.ValueOf(c)).Interface().(Certificate)
	replace(reflect.ValueOf(&c).Elem(), plot.Visible)
	type channel struct {
		CertificateChannel
		SVG template.HTML
	}
	view := struct {
		Certificate
		Style template.CSS
		Each  []channel
	}{Certificate: c, Style: template.CSS(styleSheet)}
	for _, k := range c.Channels {
		one := channel{CertificateChannel: k}
		if k.drawn() {
			svg, err := k.Figure.SVG(figureWidth, certificateHeight)
			if err != nil {
				return nil, err
			}
			one.SVG = template.HTML(svg)
		}
		view.Each = append(view.Each, one)
	}
	return certificatePage.fill(view)
}

// PDF returns the certificate for printing.
func (c Certificate) PDF() ([]byte, error) {
	c = clone(reflect.ValueOf(c)).Interface().(Certificate)
	replace(reflect.ValueOf(&c).Elem(), plot.Printable)
	s, err := newSheet(c.Title, "Certificate of calibration  ·  "+c.Title, "made by sinkproof from a signed entry of the ledger", c.Started)
	if err != nil {
		return nil, err
	}
	s.font(9.5, "")
	s.colour(quiet)
	s.pdf.Text(marginLeft, s.y+12, "Certificate of calibration")
	s.y += 16
	s.set(words{c.Title, 17, "B", inkText}, 0)
	s.y += 8
	if c.Twin {
		s.box(open, "Simulated bench. Rig and reference are those of the twin. This page is no evidence about a bench that exists.")
	}
	s.set(words{c.Lead, 10.5, "", inkText}, 0)
	s.y += 6
	s.facts(c.Facts, 1)
	c.printResults(s)
	for _, k := range c.Channels {
		if err := k.print(s); err != nil {
			return nil, err
		}
	}
	s.heading("How this was found", 40)
	for _, m := range c.Method {
		s.paragraph("•", m, 8, inkText)
	}
	s.heading("Evidence", 40)
	s.facts(c.Evidence, 1)
	return s.bytes()
}

func (c Certificate) printResults(s *sheet) {
	s.heading("Result", 80)
	g := &grid{sheet: s, columns: []columnOf{
		{title: "Channel", width: bodyWidth - 44 - 4*68 - 60 - 40}, {title: "Points", width: 44, right: true},
		{title: "Gain was off", width: 68, right: true}, {title: "Offset was", width: 68, right: true},
		{title: "U before", width: 68, right: true}, {title: "U now", width: 68, right: true},
		{title: "Residual", width: 60, right: true}, {title: "ν", width: 40, right: true},
	}}
	g.head()
	for _, r := range c.Results {
		g.plain([]cell{
			{text: r.Channel, bold: true, tone: Plain}, {text: r.Points, tone: Plain}, {text: r.Gain, tone: Plain}, {text: r.Offset, tone: Plain},
			{text: r.Before, tone: Plain}, {text: r.After, bold: true, tone: Plain}, {text: r.Residual, tone: Plain}, {text: r.Degree, tone: Plain},
		})
	}
}

func (k CertificateChannel) print(s *sheet) error {
	s.heading("Channel "+k.Title, 70)
	s.paragraph("", k.Line, 8.5, inkText)
	g := &grid{sheet: s, columns: []columnOf{
		{title: "State of the rig", width: bodyWidth - 4*78}, {title: "Reading", width: 78, right: true}, {title: "Reference", width: 78, right: true},
		{title: "Error before", width: 78, right: true}, {title: "Error after", width: 78, right: true},
	}}
	g.head()
	for _, p := range k.Points {
		g.plain([]cell{
			{text: p.State, tone: Plain}, {text: p.Reading, tone: Plain}, {text: p.Reference, tone: Plain}, {text: p.Before, tone: Plain}, {text: p.After, tone: Plain},
		})
	}
	if !k.drawn() {
		return nil
	}
	s.y += 4
	s.room(certificateHeight)
	if err := k.Figure.Draw(s.pdf, marginLeft, s.y, figureWidth, certificateHeight); err != nil {
		return err
	}
	s.y += certificateHeight
	return nil
}
