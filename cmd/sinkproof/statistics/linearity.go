package statistics

import (
	"fmt"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality"
	"sinkproof/reports/quality/gauge"
)

// linearityFlags are the flags of sinkproof study linearity.
type linearityFlags struct {
	inputs
	outputs
	truthFlags
	reference string
}

func newLinearity() *cobra.Command {
	var f linearityFlags
	c := &cobra.Command{
		Use:   "linearity FILE --reference COLUMN",
		Short: "Tells whether the bias depends on what is measured",
		Long: `References over the reach of a gauge are measured, each twice at least. A straight
line is laid through the bias of all readings over the references: its slope tells
that the bias depends on what is measured. The band holds the line, at each reference
with the confidence.

--accept asks for a judgement: the band, at no reference, may lie farther from 0 than
so many percent of --tolerance. --judge asks whether the band holds 0 at every
reference; few readings or coarse ones pass that, too. Where a judgement is negative
the program ends with 1.

--json prints n, slope, slope_low, slope_high, slope_t, slope_p, the same of
intercept, residual_sd, df, r2, percent_tolerance, points (reference, n, bias,
bias_low, bias_high, t, p, line, line_low, line_high). What is undefined is left
out.`,
		Example: `  sinkproof study linearity meter.csv --reference volts --value reading
  sinkproof study linearity meter.csv --reference volts --value reading --tolerance 0.5 --accept 5 --page linearity.html`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	fs.StringVar(&f.value, "value", "", "`column` of the readings; may be left out where only one is left")
	fs.StringVar(&f.by, "by", "", "make one study for each text in this `column`")
	addFormat(fs, &f.format)
	f.outputs.add(fs)
	fs.StringVar(&f.reference, "reference", "", "`column` of the references' values")
	f.truthFlags.add(fs, "the bias, to the farther end of its band,", "the band must hold 0 at every reference")
	return c
}

func (f *linearityFlags) run(c *cobra.Command, args []string) error {
	if f.reference == "" {
		return trouble("--reference COLUMN", "which column holds the values of the references?")
	}
	if err := f.check(); err != nil {
		return err
	}
	t, err := f.read(c, args, want{numbers: []string{f.reference}, texts: f.grouped()})
	if err != nil {
		return err
	}
	s := study{kind: "Linearity", title: t.title(), lead: "Whether the bias depends on the reference, with a band of " + percent(f.confidence.value) + " confidence for the line.",
		method: []string{"Least squares through the bias of every reading: AIAG, Measurement Systems Analysis, 4th ed., III.B. The band is that of the line at one reference, not of all at once."}}
	if err := f.studyEach(t, &s, 0, f.judged); err != nil {
		return err
	}
	s.overview(titled{"n", "n"}, titled{"slope", "Slope"}, titled{"slope_p", "p of the slope"}, titled{"intercept", "Intercept"}, titled{"r2", "R²"}, titled{"percent_tolerance", "Band, % of tolerance"})
	return f.show(c, s)
}

// judged is the study of one group.
func (f *linearityFlags) judged(t *table) (finding, error) {
	if err := t.enough(3); err != nil {
		return finding{}, err
	}
	if err := t.spreads(); err != nil {
		return finding{}, err
	}
	readings := map[float64][]float64{}
	for i, v := range t.values {
		at := t.numbers[0][i]
		readings[at] = append(readings[at], v)
	}
	var references []float64
	for at := range readings {
		references = append(references, at)
	}
	slices.Sort(references)
	var sets [][]float64
	for _, at := range references {
		sets = append(sets, readings[at])
	}
	l, err := gauge.Linearity(references, sets, f.confidence.value)
	if err != nil {
		return finding{}, trouble("two references at least, each measured twice at least", "%s: %w", t.source, err)
	}
	return f.answer(t, linear{l, references, sets}), nil
}

// linear is a linearity study with its data.
type linear struct {
	gauge.Linear
	references []float64
	readings   [][]float64
}

// farthest is how far the band lies from 0 at most. Over the reach its ends are
// convex, so that the references at both ends decide.
func (l linear) farthest() float64 {
	most := 0.0
	for _, b := range l.Bands {
		most = math.Max(most, worst(b))
	}
	return most
}

// unbiased tells that the band holds 0 at every reference.
func (l linear) unbiased() bool {
	return !slices.ContainsFunc(l.Bands, func(b quality.Interval) bool { return !b.Contains(0) })
}

// addLine adds a fitted line to what a program reads.
func addLine(out *fields, l gauge.Line) {
	for _, x := range []struct {
		name string
		of   gauge.Coefficient
	}{{"slope", l.Slope}, {"intercept", l.Intercept}} {
		out.number(x.name, x.of.Value)
		out.interval(x.name, x.of.Interval)
		out.number(x.name+"_t", x.of.T)
		out.number(x.name+"_p", x.of.P)
	}
	out.number("residual_sd", l.Residual)
	out.number("df", l.DF)
	out.number("r2", l.R2)
}

func (f *linearityFlags) answer(t *table, l linear) finding {
	var out finding
	out.fields.add("n", len(t.values))
	addLine(&out.fields, l.Line)
	out.fields.number("percent_tolerance", f.share(l.farthest()))
	rows := page.StudyTable{Columns: []page.StudyColumn{right("Reference"), right("Readings"), right("Bias"), right("Low"), right("High"), right("p"), right("Line"), right("Band, low"), right("Band, high")}}
	var points []fields
	for i, at := range l.references {
		o, band := l.Offsets[i], l.Bands[i]
		line, _ := l.At(at)
		p := fields{{name: "reference", num: at}, {name: "n", value: len(l.readings[i])}}
		p.number("bias", o.Bias)
		p.interval("bias", o.Interval)
		p.number("t", o.T)
		p.number("p", o.P)
		p.number("line", line)
		p.interval("line", band)
		points = append(points, p)
		rows.Rows = append(rows.Rows, row(show(at), whole(len(l.readings[i])), show(o.Bias), show(o.Low), show(o.High), showP(o.P), show(line), show(band.Low), show(band.High)))
	}
	out.fields.add("points", listOf(points))
	out.section.Tables = []page.StudyTable{rows}
	out.section.Facts = append([]page.Row{
		{Label: "readings", Text: fmt.Sprintf("%d of %s", len(t.values), counted(len(l.references), "reference"))},
		{Label: "slope", Text: fmt.Sprintf("%s (%s), p %s", show(l.Slope.Value), between(l.Slope.Interval), showP(l.Slope.P))},
		{Label: "intercept", Text: fmt.Sprintf("%s (%s), p %s", show(l.Intercept.Value), between(l.Intercept.Interval), showP(l.Intercept.P))},
		{Label: "about the line", Text: fmt.Sprintf("standard deviation %s; the line explains %s of what the bias varies", show(l.Residual), percent(l.R2))},
		{Label: "band", Text: "up to " + show(l.farthest()) + " from no bias" + f.shareWords(l.farthest())},
	}, t.leftRows()...)
	out.draw = func() (figures, error) { return f.draw(t, l) }
	f.accepts(&out, "the bias over the reach", l.farthest())
	if f.judge {
		said := "at every reference the band holds no bias"
		if !l.unbiased() {
			said = "the band leaves no bias outside"
		}
		out.judge(l.unbiased(), said)
	}
	return out
}
