package statistics

import (
	"fmt"
	"math"
	"slices"

	"github.com/spf13/cobra"

	"sinkproof/cmd/sinkproof/statistics/columns"
	"sinkproof/reports/page"
	"sinkproof/reports/quality/gauge"
	"sinkproof/reports/quality/proportion"
)

// agreementFlags are the flags of sinkproof study agreement.
type agreementFlags struct {
	outputs
	format                            columns.Format
	value, part, appraiser, reference string
	accept                            number
	confidence                        confidence
}

func newAgreement() *cobra.Command {
	var f agreementFlags
	c := &cobra.Command{
		Use:   "agreement FILE --part COLUMN --appraiser COLUMN --value COLUMN",
		Short: "Tells how far judgements agree that are no numbers: pass and fail, or classes",
		Long: `Every appraiser (a person, a nest, a bench) judges every part the same number of
times; a judgement is a text, such as pass or fail. It tells which share of the parts
each appraiser judged alike every time, and, with --reference, as the reference does;
and for every pair of appraisers kappa: 1 where they always agree, 0 where they agree
as often as by chance. All together have the kappa of Fleiss.

--accept asks for a judgement: kappa of each pair, and of each appraiser with the
reference, must reach the number, else the program ends with 1. By custom above 0.75
is good, below 0.4 poor.

--json prints parts, appraisers, trials, classes; within (appraiser, alike, share,
share_low, share_high, kappa), reference (the same with observed, chance, kappa_low,
kappa_high), pairs (a, b, observed, chance, kappa, kappa_low, kappa_high), all (alike,
share, share_low, share_high, kappa, z, p), least_kappa. What is undefined is left
out.`,
		Example: `  sinkproof study agreement looks.csv --part unit --appraiser person --value verdict
  sinkproof study agreement looks.csv --part unit --appraiser person --value verdict --reference truth --accept 0.75 --page looks.html`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	fs.StringVar(&f.part, "part", "", "`column` that names the part")
	fs.StringVar(&f.appraiser, "appraiser", "", "`column` that names who or what judged")
	fs.StringVar(&f.value, "value", "", "`column` of the judgements")
	fs.StringVar(&f.reference, "reference", "", "`column` of what each part is, the same on all its rows")
	addShape(fs, &f.format, "judgement")
	f.outputs.add(fs)
	f.accept.add(fs, "accept", "judge: every kappa must reach this number")
	f.confidence.add(fs)
	return c
}

func (f *agreementFlags) run(c *cobra.Command, args []string) error {
	switch {
	case f.part == "":
		return trouble("--part COLUMN", "which column names the part?")
	case f.appraiser == "":
		return trouble("--appraiser COLUMN: a person, a nest, a bench", "which column names who judged?")
	case f.value == "":
		return trouble("--value COLUMN", "which column holds the judgements?")
	case f.accept.set && !(f.accept.value > -1 && f.accept.value <= 1):
		return trouble("0.75 by custom; kappa is 1 at most", "--accept %s", show(f.accept.value))
	}
	j, err := f.judgements(c, args)
	if err != nil {
		return err
	}
	if err := j.studied(); err != nil {
		return err
	}
	found, err := f.agree(j)
	if err != nil {
		return err
	}
	out, err := f.answer(j, found)
	if err != nil {
		return err
	}
	return f.show(c, study{kind: "Agreement", title: f.value + ", " + j.source, lead: "How far judgements agree, beyond what chance would give.",
		findings: []finding{out}, method: []string{
			"Kappa of two: Cohen, Educational and Psychological Measurement 20 (1960) 37, trial by trial, its interval by Fleiss, Cohen and Everitt, Psychological Bulletin 72 (1969) 323, which takes trials as independent. Kappa of many: Fleiss, Psychological Bulletin 76 (1971) 378, tested against chance.",
			"Intervals of shares: Clopper-Pearson, of " + percent(f.confidence.value) + " confidence. Above 0.75 kappa is commonly taken as good, below 0.4 as poor (AIAG MSA).",
		}})
}

// agreed is a share of parts, with a kappa where there is one.
type agreed struct {
	who   string
	alike int
	share proportion.Summary
	gauge.Agreement
}

// pair are two appraisers, or one with the reference.
type pair struct {
	a, b string
	gauge.Agreement
}

// agreement is what the study finds.
type agreement struct {
	within, reference []agreed
	pairs             []pair
	all               agreed
}

// undefined is the agreement of nothing.
func undefined() gauge.Agreement {
	nan := math.NaN()
	a := gauge.Agreement{Observed: nan, Chance: nan, Kappa: nan, SE: nan}
	a.Low, a.High = nan, nan
	return a
}

// agree computes every agreement.
func (f *agreementFlags) agree(j *judgements) (agreement, error) {
	var out agreement
	level := f.confidence.value
	every := make([][]int, len(j.parts.names)) // judgements of a part, of all appraisers
	for i, who := range j.appraisers.names {
		w := agreed{who: who, Agreement: undefined()}
		r := agreed{who: who}
		against := square(len(j.classes.names))
		var own [][]int
		for p, list := range j.of[i] {
			every[p] = append(every[p], list...)
			own = append(own, byClass(list, len(j.classes.names)))
			if alike(list) {
				w.alike++
				if j.truth[p] == list[0] {
					r.alike++
				}
			}
			for _, class := range list {
				if j.truth[p] >= 0 {
					against[class][j.truth[p]]++
				}
			}
		}
		w.share = proportion.Summarize(w.alike, len(j.parts.names), level)
		if j.trials > 1 {
			a, err := gauge.Fleiss(own, level)
			if err != nil {
				return out, trouble("", "%s: %w", j.source, err)
			}
			w.Agreement = a
			out.within = append(out.within, w)
		}
		if f.reference == "" {
			continue
		}
		a, err := gauge.Cohen(against, level)
		if err != nil {
			return out, trouble("", "%s: %w", j.source, err)
		}
		r.Agreement, r.share = a, proportion.Summarize(r.alike, len(j.parts.names), level)
		out.reference = append(out.reference, r)
	}
	return out, f.together(j, every, &out)
}

// together compares appraisers with each other.
func (f *agreementFlags) together(j *judgements, every [][]int, out *agreement) error {
	level := f.confidence.value
	for a := range j.of {
		for b := a + 1; b < len(j.of); b++ {
			table := square(len(j.classes.names))
			for p := range j.of[a] {
				for k := range j.of[a][p] {
					table[j.of[a][p][k]][j.of[b][p][k]]++
				}
			}
			found, err := gauge.Cohen(table, level)
			if err != nil {
				return trouble("", "%s: %w", j.source, err)
			}
			out.pairs = append(out.pairs, pair{j.appraisers.names[a], j.appraisers.names[b], found})
		}
	}
	out.all = agreed{who: "all", Agreement: undefined()}
	var counts [][]int
	for _, list := range every {
		counts = append(counts, byClass(list, len(j.classes.names)))
		if alike(list) {
			out.all.alike++
		}
	}
	if len(every[0]) > 1 {
		a, err := gauge.Fleiss(counts, level)
		if err != nil {
			return trouble("", "%s: %w", j.source, err)
		}
		out.all.Agreement = a
	}
	out.all.share = proportion.Summarize(out.all.alike, len(every), level)
	return nil
}

// square is a table of zeros.
func square(n int) [][]int {
	t := make([][]int, n)
	for i := range t {
		t[i] = make([]int, n)
	}
	return t
}

// byClass counts judgements by class.
func byClass(list []int, classes int) []int {
	out := make([]int, classes)
	for _, class := range list {
		out[class]++
	}
	return out
}

func alike(list []int) bool {
	return !slices.ContainsFunc(list, func(class int) bool { return class != list[0] })
}

// kappas are those that are judged.
func (a agreement) kappas() []pair {
	list := slices.Clone(a.pairs)
	for _, r := range a.reference {
		list = append(list, pair{r.who, "the reference", r.Agreement})
	}
	if len(list) == 0 {
		for _, w := range a.within {
			list = append(list, pair{w.who, "the next time", w.Agreement})
		}
	}
	return list
}

// accepts judges by the least kappa.
func (f *agreementFlags) accepts(out *finding, a agreement) error {
	list := a.kappas()
	least, at := math.Inf(1), pair{}
	for _, p := range list {
		if math.IsNaN(p.Kappa) {
			if f.accept.set {
				return trouble("choose parts of every class", "kappa of %q with %q is not defined: both judged every part the same", p.a, p.b)
			}
			continue
		}
		if p.Kappa < least {
			least, at = p.Kappa, p
		}
	}
	out.fields.number("least_kappa", least)
	switch {
	case !f.accept.set:
	case len(list) == 0:
		return trouble("two appraisers, two trials, or --reference", "one judgement of each part: nothing agrees with it or not")
	default:
		out.judge(least >= f.accept.value, fmt.Sprintf("the least kappa is %s (%s with %s), %s is wanted", show(least), at.a, at.b, show(f.accept.value)))
	}
	return nil
}

func (f *agreementFlags) answer(j *judgements, a agreement) (finding, error) {
	var out finding
	out.fields.add("parts", len(j.parts.names))
	out.fields.add("appraisers", len(j.appraisers.names))
	out.fields.add("trials", j.trials)
	out.fields.add("classes", j.classes.names)
	if len(a.within) > 0 {
		out.fields.add("within", listOf(mapped(a.within, func(x agreed) fields { return x.fields("kappa") })))
	}
	if len(a.reference) > 0 {
		out.fields.add("reference", listOf(mapped(a.reference, func(x agreed) fields { return append(x.fields(""), kappaFields(x.Agreement)...) })))
	}
	out.fields.add("pairs", listOf(mapped(a.pairs, func(p pair) fields {
		return append(fields{{name: "a", value: p.a}, {name: "b", value: p.b}}, kappaFields(p.Agreement)...)
	})))
	all := a.all.fields("kappa")[1:]
	z := a.all.Kappa / a.all.SE
	all.number("z", z)
	all.number("p", twoSided(z))
	out.fields.add("all", all)
	out.section.Facts = []page.Row{
		{Label: "study", Text: fmt.Sprintf("%s, %s, %s each; %s", counted(len(j.parts.names), "part"), counted(len(j.appraisers.names), "appraiser"), counted(j.trials, "trial"), j.classWords())},
		{Label: "all together", Text: fmt.Sprintf("%s (%s) of the parts judged alike by all, every time; kappa %s, p of agreement by chance %s",
			percent(a.all.share.Estimate), shares(a.all), show(a.all.Kappa), showP(twoSided(z)))},
	}
	out.section.Facts = append(out.section.Facts, j.leftRows()...)
	out.section.Tables = a.tables()
	out.draw = func() (figures, error) { return f.draw(a) }
	return out, f.accepts(&out, a)
}
