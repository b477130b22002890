package page

import (
	"reflect"

	"sinkproof/reports/page/plot"
)

// PDF returns the study for printing and for the review.
func (c Coverage) PDF() ([]byte, error) {
	c = clone(reflect.ValueOf(c)).Interface().(Coverage)
	replace(reflect.ValueOf(&c).Elem(), plot.Printable)
	s, err := newSheet(c.Title, "Coverage study  ·  "+c.Title, "made by sinkproof from simulated records; no evidence about units that exist", c.Started)
	if err != nil {
		return nil, err
	}
	c.printHead(s)
	s.heading("What follows", 30)
	s.facts(c.Findings, 1)
	rates := rateCharts(c.Rates)
	keep := 30.0
	if len(rates) > 0 {
		keep += rates[0].height
	}
	s.heading("What went wrong, class by class", keep)
	s.paragraph("", "Good units that were rejected, and units with a fault that passed: the line is the exact 95\u00a0% interval, the square what was seen. Where nothing was seen the line says how much there may be. At the right: how many checks catch a unit.", 8, quiet)
	for _, k := range rates {
		s.place(k)
	}
	c.printHeat(s)
	if err := c.printCurves(s); err != nil {
		return nil, err
	}
	c.printChecks(s)
	c.printTraits(s)
	if len(c.Hidden) > 0 {
		s.heading("What cannot be seen on this product", 30)
		s.facts(c.Hidden, 1)
	}
	s.heading("How this was found", 40)
	s.facts(c.Facts, 1)
	for _, m := range c.Method {
		s.paragraph("•", m, 8, inkText)
	}
	return s.bytes()
}

// printHead sets title, cautions, the sentence of the study and its tally.
func (c Coverage) printHead(s *sheet) {
	s.font(9.5, "")
	s.colour(quiet)
	s.pdf.Text(marginLeft, s.y+12, "Coverage study")
	s.y += 16
	s.set(words{c.Title, 17, "B", inkText}, 0)
	s.y += 8
	s.box(open, "Simulated bench. Every unit and every rig was drawn and run on the twin. This page says what the scenario would find; it is no evidence about units that exist.")
	if c.Caution != "" {
		s.box(open, "Not whole. "+c.Caution)
	}
	s.set(words{c.Lead, 10.5, "", inkText}, 0)
	s.y += 8
	s.tally(c.Tally)
}

// tally sets the figures at the head beside each other.
func (s *sheet) tally(list []TallyRow) {
	const height, gap = 44.0, 6.0
	if len(list) == 0 {
		return
	}
	s.room(height)
	width := (bodyWidth - gap*float64(len(list)-1)) / float64(len(list))
	for i, t := range list {
		x := marginLeft + float64(i)*(width+gap)
		s.fill(wash, x, s.y, width, height)
		s.fill(t.Tone.tint(), x, s.y, 3.5, height)
		s.font(16, "B")
		s.colour(t.Tone.tint())
		s.pdf.Text(x+10, s.y+19, t.Figure)
		s.font(7.2, "")
		s.colour(inkText)
		for j, l := range s.wrap(t.Label, width-14) {
			s.pdf.Text(x+10, s.y+29+float64(j)*9, l)
		}
	}
	s.y += height + 2
}

func (c Coverage) printHeat(s *sheet) {
	maps := heatMaps(c.Heat)
	if len(maps) == 0 {
		return
	}
	s.heading("Which check catches which fault", maps[0].height+24)
	s.paragraph("", "Each cell is the share of the units of a class that failed the check, in any of its rounds. A check may fail as the consequence of another one.", 8, quiet)
	for _, k := range maps {
		s.place(k)
	}
}

// printCurves sets the curves in pairs, and how far limits could move.
func (c Coverage) printCurves(s *sheet) error {
	s.heading("Another guard band, other limits", curveHeight+16)
	s.paragraph("", "The readings of all units, judged again. Nothing was simulated twice.", 8, quiet)
	for i, f := range c.Curves {
		if i%2 == 0 {
			s.room(curveHeight)
		}
		x := marginLeft + float64(i%2)*(bodyWidth-curveWidth)
		if err := f.Draw(s.pdf, x, s.y, curveWidth, curveHeight); err != nil {
			return err
		}
		if i%2 == 1 || i == len(c.Curves)-1 {
			s.y += curveHeight + 8
		}
	}
	if len(c.Limits) == 0 {
		return nil
	}
	k := limitChart(c.Limits)
	s.heading("How far each limit could move", k.height+34)
	s.paragraph("", "A bar reaches from where one more good unit would be rejected to where one more faulty unit would escape, all other limits as they are; a bar without an end goes on beyond half of the limit's value.", 8, quiet)
	s.place(k)
	return nil
}

func (c Coverage) printChecks(s *sheet) {
	if len(c.Checks) == 0 {
		return
	}
	s.heading("What each check is good for", 80)
	g := &grid{sheet: s, columns: []columnOf{
		{title: "Check", width: bodyWidth - 36 - 44 - 38 - 44 - 168}, {title: "Rounds", width: 36, right: true},
		{title: "Catches", width: 44, right: true}, {title: "Alone", width: 38, right: true},
		{title: "Good rej.", width: 44, right: true}, {title: "Standing", width: 168},
	}}
	g.head()
	for _, x := range c.Checks {
		g.plain([]cell{
			{text: x.Title, small: x.Name, tone: Plain}, {text: x.Rounds, tone: Plain}, {text: x.Caught, tone: Plain},
			{text: x.Alone, tone: Plain}, {text: x.Good, tone: Plain}, {text: x.Standing, small: x.Only, tone: x.Tone},
		})
	}
}

func (c Coverage) printTraits(s *sheet) {
	if len(c.Characteristics) == 0 {
		return
	}
	s.heading("Risks of what is measured", 100)
	s.paragraph("", "Properties whose true value the simulation knows (JCGM 106:2012, 9.5). Consumer's risk: out of limits and accepted; producer's risk: within limits and rejected; both of the good units and those with a fault of this property. Computed: for good units of a normal spread. Err./u: errors of the readings in units of their own standard uncertainty, root mean square; 1 for an uncertainty that is neither timid nor bold.", 8, quiet)
	g := &grid{sheet: s, columns: []columnOf{
		{title: "Property", width: bodyWidth - 62 - 76 - 42 - 36 - 70 - 70 - 70}, {title: "Limits", width: 62}, {title: "Good units", width: 76},
		{title: "U", width: 42}, {title: "Err./u", width: 36}, {title: "Consumer", width: 70}, {title: "Producer", width: 70}, {title: "Computed", width: 70},
	}}
	g.head()
	for _, x := range c.Characteristics {
		g.plain([]cell{
			{text: x.Title, tone: Plain}, {text: x.Limits, tone: Plain}, {text: x.Good, tone: Plain}, {text: x.Uncertainty, tone: Plain},
			{text: x.Ratio, tone: Plain}, {text: x.Consumer, tone: Plain}, {text: x.Producer, tone: Plain}, {text: x.Computed, tone: Plain},
		})
	}
}

// plain sets a row of a table without groups, on a new page under the titles
// again where it does not fit.
func (g *grid) plain(cells []cell) {
	lines, height := g.layout(cells)
	if g.room(height) {
		g.head()
	}
	g.paint(cells, lines, Plain, height)
}
