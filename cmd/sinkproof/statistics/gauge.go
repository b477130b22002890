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

// gaugeFlags are the flags of sinkproof study gauge.
type gaugeFlags struct {
	inputs
	outputs
	part, appraiser, method string
	tolerance, pool, accept number
	confidence              confidence
}

func newGauge(explain func(error) error) *cobra.Command {
	f := gaugeFlags{inputs: inputs{repeated: true}}
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "gauge FILE --part COLUMN --appraiser COLUMN",
		Short: "Tells how much of a spread is the bench's own",
		Long: `Every appraiser (a person, a nest, a bench) measures every part the same number of
times. The spread falls into repeatability (EV: again, all the same), the
appraisers (AV), their interaction with parts, the three together (GRR), the parts
(PV) and everything (TV), as standard deviations.

--method anova separates them by analysis of variance; the interaction is pooled
with repeatability where its p is above --pool. --method range goes by mean ranges,
as on paper, and sees no interaction. A study that is not balanced is refused, with
the cell that is short.

--accept asks for a judgement: GRR in percent (of --tolerance where that is given,
else of TV) must not exceed the number, else the program ends with 1.

--json prints parts, appraisers, trials, method; ev, av, interaction, grr, pv, tv,
with anova each with <name>_low and <name>_high; grr_percent,
grr_percent_tolerance, ndc, interaction_p, pooled. What is undefined is left out.`,
		Example: `  sinkproof study gauge grr.csv --part part --appraiser person --value reading
  sinkproof study gauge grr.csv --part part --appraiser nest --tolerance 0.5 --accept 10 --page grr.html
  sinkproof study gauge --ledger line/ledger.db --check rd-cc1 --part serial --appraiser nest`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	f.inputs.add(fs)
	f.outputs.add(fs)
	fs.StringVar(&f.part, "part", "", "`column` that names the part")
	fs.StringVar(&f.appraiser, "appraiser", "", "`column` that names who or what measured")
	fs.StringVar(&f.method, "method", "anova", "anova or range")
	f.tolerance.add(fs, "tolerance", "width of the tolerance, upper limit minus lower")
	f.pool.value = gauge.Pooling
	f.pool.set = true
	f.pool.add(fs, "pool", "p-value above which the interaction is pooled; 1 never pools")
	f.accept.add(fs, "accept", "judge: GRR must not exceed this many percent")
	f.confidence.add(fs)
	return c
}

func (f *gaugeFlags) run(c *cobra.Command, args []string) error {
	switch {
	case f.part == "":
		return trouble("--part COLUMN", "which column names the part?")
	case f.appraiser == "":
		return trouble("--appraiser COLUMN: a person, a nest, a bench; a column with one text for a single one", "which column names who measured?")
	case f.method != "anova" && f.method != "range":
		return trouble("--method anova, or range", "--method %q", f.method)
	case f.tolerance.set && !(f.tolerance.value > 0):
		return trouble("upper limit minus lower", "--tolerance %s is no width", show(f.tolerance.value))
	case !(f.pool.value >= 0 && f.pool.value <= 1):
		return trouble("a p-value lies between 0 and 1", "--pool %s", show(f.pool.value))
	}
	t, err := f.read(c, args, want{texts: f.grouped(f.part, f.appraiser)})
	if err != nil {
		return err
	}
	s := study{kind: "Gauge study", title: t.title(), started: t.started, simulation: t.simulation,
		lead: "How much of the spread is the gauge's own, and how much the parts'.", method: f.sources()}
	if err := f.studyEach(t, &s, 2, f.judged); err != nil {
		return err
	}
	s.overview(titled{"grr", "GRR"}, titled{"pv", "PV"}, titled{"tv", "TV"}, titled{"grr_percent", "GRR, % of TV"},
		titled{"grr_percent_tolerance", "GRR, % of tolerance"}, titled{"ndc", "Categories"})
	return f.show(c, s)
}

func (f *gaugeFlags) sources() []string {
	if f.method == "range" {
		return []string{"By averages and ranges: AIAG, Measurement Systems Analysis, 4th ed., II.D, with its factors K rounded to four decimals. It cannot see an interaction."}
	}
	return []string{
		"By analysis of variance, parts and appraisers both random: Montgomery, Design and Analysis of Experiments, 13.2. The interaction is pooled where its p is above " + show(f.pool.value) + ".",
		"Intervals: Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies (2005), 3. GRR below 10 % is commonly taken as good, above 30 % as unfit, and 5 distinct categories are asked for (AIAG MSA).",
	}
}

// judged is the study of one group.
func (f *gaugeFlags) judged(t *table) (finding, error) {
	s, err := gauge.Columns{Parts: t.texts[0], Appraisers: t.texts[1], Part: t.codes[0], Appraiser: t.codes[1], Values: t.values}.Arrange()
	if err != nil {
		return finding{}, trouble("every appraiser measures every part the same number of times, two at least", "%s: %w", t.source, err)
	}
	if err := t.spreads(); err != nil {
		return finding{}, err
	}
	return f.answer(t, s), nil
}

// component is one line of a study.
type component struct {
	name, label string
	value       float64
	interval    quality.Interval
	says        string
}

// components lists those that the method and the study have.
func components(c gauge.Components, i gauge.Intervals, appraisers int, anova bool) []component {
	list := []component{
		{"ev", "Repeatability EV", c.EV, i.EV, "the same again"},
		{"av", "Appraisers AV", c.AV, i.AV, "one against another"},
		{"interaction", "Interaction", c.Interaction, i.Interaction, "appraisers that differ on some parts"},
		{"grr", "Gauge GRR", c.GRR, i.GRR, "all that is not the part"},
		{"pv", "Parts PV", c.PV, i.PV, "what is to be told apart"},
		{"tv", "Total TV", c.TV, i.TV, ""},
	}
	return slices.DeleteFunc(list, func(x component) bool {
		return x.name == "av" && appraisers < 2 || x.name == "interaction" && (appraisers < 2 || !anova)
	})
}

func (f *gaugeFlags) answer(t *table, s gauge.Study) finding {
	var out finding
	anova := f.method == "anova"
	var table gauge.Anova
	none := quality.Undefined()
	c, i := s.AverageRange().Components, gauge.Intervals{EV: none, AV: none, Interaction: none, GRR: none, PV: none, TV: none}
	if anova {
		table = s.Analyze(f.pool.value, f.confidence.value)
		c, i = table.Components, table.Intervals
	}
	trials := len(s.Values[0][0])
	out.fields.add("parts", len(s.Parts))
	out.fields.add("appraisers", len(s.Appraisers))
	out.fields.add("trials", trials)
	out.fields.add("method", f.method)
	spreads := page.StudyTable{Columns: []page.StudyColumn{left("Component"), right("Std. dev."), right("Low"), right("High"), right("% of TV"), left("What differs")}}
	width := f.tolerance.or(math.NaN())
	ofTotal, ofTolerance := c.Scaled(c.TV), c.Scaled(width/6)
	if f.tolerance.set {
		spreads.Columns = slices.Insert(spreads.Columns, 5, right("% of tolerance"))
	}
	if !anova {
		spreads.Columns = slices.Delete(spreads.Columns, 2, 4) // no intervals
	}
	shares := components(ofTotal, i, len(s.Appraisers), anova)
	wide := components(ofTolerance, i, len(s.Appraisers), anova)
	for n, x := range components(c, i, len(s.Appraisers), anova) {
		out.fields.number(x.name, x.value)
		out.fields.interval(x.name, x.interval)
		cells := []string{x.label, show(x.value), show(x.interval.Low), show(x.interval.High), show(shares[n].value), x.says}
		if f.tolerance.set {
			cells = slices.Insert(cells, 5, show(wide[n].value))
		}
		if !anova {
			cells = slices.Delete(cells, 2, 4)
		}
		spreads.Rows = append(spreads.Rows, row(cells...))
	}
	out.fields.number("grr_percent", c.GRRPercent())
	out.fields.number("grr_percent_tolerance", c.GRRPercentTolerance(width))
	ndc, exact := c.NDC()
	if !math.IsNaN(exact) && !math.IsInf(exact, 0) {
		out.fields.add("ndc", ndc)
	}
	out.section.Tables = append(out.section.Tables, spreads)
	out.section.Facts = []page.Row{
		{Label: "study", Text: fmt.Sprintf("%s, %s, %s each", counted(len(s.Parts), "part"), counted(len(s.Appraisers), "appraiser"), counted(trials, "trial"))},
		{Label: "GRR", Text: show(c.GRRPercent()) + " % of the total spread" + f.toleranceWords(c)},
		{Label: "distinct categories", Text: ndcWords(ndc, exact)},
	}
	if anova {
		f.variance(&out, table, len(s.Appraisers))
	}
	out.section.Facts = append(out.section.Facts, t.leftRows()...)
	out.draw = func() (figures, error) { return drawGauge(t, s, c, width, anova) }
	f.accepts(&out, c)
	return out
}

func (f *gaugeFlags) toleranceWords(c gauge.Components) string {
	if !f.tolerance.set {
		return ""
	}
	return ", " + show(c.GRRPercentTolerance(f.tolerance.value)) + " % of the tolerance"
}

func ndcWords(ndc int, exact float64) string {
	if math.IsNaN(exact) || math.IsInf(exact, 0) {
		return "none defined: the gauge showed no spread"
	}
	return fmt.Sprintf("%d (1.41 PV/GRR = %s)", ndc, show(exact))
}

// variance adds the analysis of variance.
func (f *gaugeFlags) variance(out *finding, a gauge.Anova, appraisers int) {
	t := page.StudyTable{Title: "Analysis of variance", Columns: []page.StudyColumn{left("Source"), right("Sum of squares"), right("Df"), right("Mean square"), right("F"), right("p")}}
	lines := []struct {
		name string
		gauge.Source
	}{{"Part", a.Table.Part}, {"Appraiser", a.Table.Appraiser}, {"Interaction", a.Table.Interaction}, {"Repeatability", a.Table.Repeatability}, {"Total", a.Table.Total}}
	for _, l := range lines {
		if l.DF > 0 {
			t.Rows = append(t.Rows, row(l.name, show(l.SS), show(l.DF), show(l.MS), show(l.F), showP(l.P)))
		}
	}
	out.section.Tables = append(out.section.Tables, t)
	if appraisers < 2 {
		return
	}
	out.fields.number("interaction_p", a.InteractionP())
	out.fields.add("pooled", a.Pooled)
	said := "kept"
	if a.Pooled {
		said = "pooled with repeatability"
	}
	out.section.Facts = append(out.section.Facts, page.Row{Label: "interaction", Text: "p " + showP(a.InteractionP()) + ", " + said})
}

// accepts judges the gauge.
func (f *gaugeFlags) accepts(out *finding, c gauge.Components) {
	if !f.accept.set {
		return
	}
	share, of := c.GRRPercent(), "the total spread"
	if f.tolerance.set {
		share, of = c.GRRPercentTolerance(f.tolerance.value), "the tolerance"
	}
	out.judge(share <= f.accept.value, fmt.Sprintf("GRR is %s %% of %s, at most %s %% is accepted", show(share), of, show(f.accept.value)))
}
