package page

import (
	"reflect"

	"sinkproof/reports/page/plot"
)

// PDF returns the timeline for printing.
func (t Takt) PDF() ([]byte, error) {
	t = clone(reflect.ValueOf(t)).Interface().(Takt)
	replace(reflect.ValueOf(&t).Elem(), plot.Printable)
	s, err := newSheet(t.Title, "Takt study  ·  "+t.Title, "made by sinkproof from simulated runs; the times are those of a virtual clock", t.Started)
	if err != nil {
		return nil, err
	}
	s.font(9.5, "")
	s.colour(quiet)
	s.pdf.Text(marginLeft, s.y+12, "Takt study")
	s.y += 16
	s.set(words{t.Title, 17, "B", inkText}, 0)
	s.y += 8
	s.box(open, "Simulated bench. Every unit and every rig was drawn and run on the twin. The times are those of its virtual clock; how long hands need for a unit is not in them.")
	if t.Caution != "" {
		s.box(open, "Mind. "+t.Caution)
	}
	s.set(words{t.Lead, 10.5, "", inkText}, 0)
	s.y += 6
	for _, x := range t.Tally {
		s.paragraph(x.Figure, x.Label, 9, x.Tone.tint())
	}
	s.heading("What follows", 30)
	s.facts(t.Findings, 1)
	t.printCauses(s)
	for _, c := range t.Charts {
		pieces, legend := c.pieces(), t.legend()
		if len(pieces) == 0 {
			continue
		}
		s.heading(c.Title, pieces[0].height+legend.height+26)
		s.paragraph("", c.Note(), 8, quiet)
		s.place(legend)
		for _, k := range pieces {
			s.place(k)
		}
	}
	t.printRounds(s)
	t.printNests(s)
	t.printFloor(s)
	s.heading("How this was found", 40)
	s.facts(t.Facts, 1)
	for _, m := range t.Method {
		s.paragraph("•", m, 8, inkText)
	}
	return s.bytes()
}

func (t Takt) printCauses(s *sheet) {
	legend, bars := t.legend(), t.bars()
	s.heading("What the time goes to", legend.height+bars.height+40)
	s.place(legend)
	s.place(bars)
	const figure = 84.0
	columns := []columnOf{{title: "Cause", width: bodyWidth - figure*float64(len(t.Runs))}}
	last := []cell{{text: "Whole run", tone: Plain}}
	for _, r := range t.Runs {
		columns = append(columns, columnOf{title: r.Label, width: figure, right: true})
		last = append(last, cell{text: r.Text, tone: Plain})
	}
	g := &grid{sheet: s, columns: columns}
	g.head()
	for _, c := range t.Causes {
		row := []cell{{text: c.Name, tone: Plain}}
		for _, sum := range c.Sums {
			row = append(row, cell{text: sum, tone: Plain})
		}
		g.plain(row)
	}
	g.plain(last)
}

func (t Takt) printRounds(s *sheet) {
	s.heading("Round by round", 80)
	const figure = 52.0
	g := &grid{sheet: s, columns: []columnOf{
		{title: "Round", width: bodyWidth - 3*figure - 44 - 148}, {title: "Takes", width: figure, right: true}, {title: "Floor", width: figure, right: true},
		{title: "Beyond", width: figure, right: true}, {title: "Relays", width: 44, right: true}, {title: "Mostly", width: 148},
	}}
	g.head()
	for _, x := range t.Rounds {
		g.plain([]cell{
			{text: x.Title, small: x.Name, tone: Plain}, {text: x.Took, tone: Plain}, {text: x.Floor, tone: Plain},
			{text: x.Over, tone: x.Tone}, {text: x.Operations, tone: Plain}, {text: x.Largest, small: x.Note, tone: Plain},
		})
	}
}

func (t Takt) printFloor(s *sheet) {
	s.heading("The floor, part by part", 80)
	s.paragraph("", "What a run of a good unit takes at least, supplies taking their typical times. Equal parts stand together.", 8, quiet)
	g := &grid{sheet: s, columns: []columnOf{
		{title: "Cause", width: 96}, {title: "Formula and where its figures stand", width: bodyWidth - 96 - 34 - 52 - 52},
		{title: "Times", width: 34, right: true}, {title: "Each", width: 52, right: true}, {title: "Sum", width: 52, right: true},
	}}
	g.head()
	for _, x := range t.Floor {
		g.plain([]cell{
			{text: x.Cause, tone: Plain}, {text: x.How, tone: Plain}, {text: x.Count, tone: Plain}, {text: x.Each, tone: Plain}, {text: x.Sum, tone: Plain},
		})
	}
}

func (t Takt) printNests(s *sheet) {
	if len(t.Nests) == 0 {
		return
	}
	s.heading("Nests side by side", 80)
	s.paragraph("", "Each nest has supplies, relays and converters of its own; one computer carries the transfers of all, one at a time. Units an hour do not count what the hands need.", 8, quiet)
	const figure = 50.0
	g := &grid{sheet: s, columns: []columnOf{
		{title: "Nests and bus", width: 92}, {title: "One, u./h", width: figure, right: true}, {title: "All, u./h", width: figure, right: true},
		{title: "Times", width: 38, right: true}, {title: "Load of one", width: 58, right: true}, {title: "Load of all", width: 56, right: true},
		{title: "Judgement", width: bodyWidth - 92 - 2*figure - 38 - 58 - 56},
	}}
	g.head()
	for _, x := range t.Nests {
		g.plain([]cell{
			{text: x.Bus, tone: Plain}, {text: x.One, tone: Plain}, {text: x.All, tone: Plain}, {text: x.Times, tone: Plain},
			{text: x.OneLoad, tone: Plain}, {text: x.Load, tone: Plain}, {text: x.Note, tone: x.Tone},
		})
	}
}
