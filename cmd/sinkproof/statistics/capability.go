package statistics

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/spread"
)

// capabilityFlags are the flags of sinkproof study capability.
type capabilityFlags struct {
	inputs
	outputs
	lower, upper, target number
	subgroup, within     string
	confidence           confidence
	needCpk, needPpk     number
}

func newCapability(explain func(error) error) *cobra.Command {
	var f capabilityFlags
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "capability FILE",
		Short: "Tells how a process fits between its limits",
		Long: `Cp and Cpk compare the limits with the spread inside subgroups (what the process
could do if it stayed where it is), Pp and Ppk with the spread of all values (what
was delivered), Cpm counts the distance from --target as spread. One limit may be
left out; from a ledger both, where the records' own limits count.

Without --subgroup the spread within is that of the moving ranges. With it, it is
the mean range over d2 for subgroups of up to ten, else the mean standard
deviation over c4 (Montgomery, 6.2 and 6.3); --within chooses another.

Intervals are exact for Cp and Pp, and for Cpk and Ppk with one limit; Bissell's
for Cpk and Ppk with two limits, Boyles' for Cpm. Where the values are not normal
(Anderson-Darling, Shapiro-Wilk) look at the indices by percentiles and after a
Box-Cox transformation as well.

--need-cpk and --need-ppk ask for a judgement: the lower end of the interval must
reach the number, else the program ends with 1.

--json prints n, mean, sd_overall, sd_within, within_method, cp, cpk, pp, ppk, cpm,
each index with <name>_low and <name>_high; anderson_darling, anderson_darling_p,
shapiro_wilk, shapiro_wilk_p, nonconforming_expected, nonconforming_observed;
percentile_pp, percentile_ppk, box_cox_lambda, box_cox_pp, box_cox_ppk. What is
undefined is left out.`,
		Example: `  sinkproof study capability rings.csv --value diameter --subgroup hour --lower 73.95 --upper 74.05
  sinkproof study capability vbus.csv --upper 5.25 --lower 4.75 --target 5 --need-ppk 1.33
  sinkproof study capability --ledger line/ledger.db --check rd-cc1 --by lot --pdf rd.pdf`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	f.inputs.add(fs)
	f.outputs.add(fs)
	f.lower.add(fs, "lower", "lower limit")
	f.upper.add(fs, "upper", "upper limit")
	f.target.add(fs, "target", "target value, for Cpm")
	fs.StringVar(&f.subgroup, "subgroup", "", "`column` that tells subgroups apart: values made close together")
	fs.StringVar(&f.within, "within", "", "`method` of the spread within: "+strings.Join(withinNames(), ", "))
	f.confidence.add(fs)
	f.needCpk.add(fs, "need-cpk", "judge: the lower end of Cpk's interval must reach this")
	f.needPpk.add(fs, "need-ppk", "judge: the lower end of Ppk's interval must reach this")
	return c
}

func (f *capabilityFlags) run(c *cobra.Command, args []string) error {
	limits, err := f.limits()
	if err != nil {
		return err
	}
	var texts []string
	if f.subgroup != "" {
		texts = append(texts, f.subgroup)
	}
	t, err := f.read(c, args, want{texts: f.grouped(texts...)})
	if err != nil {
		return err
	}
	if limits, err = t.orLimits(limits); err != nil {
		return err
	}
	if err := limits.Check(); err != nil {
		return trouble("--lower L, --upper U, or both", "no limit to fit between")
	}
	s := study{kind: "Capability", title: t.title(), started: t.started, simulation: t.simulation,
		lead:   fmt.Sprintf("How the values fit %s, with intervals of %s confidence.", limitWords(limits), percent(f.confidence.value)),
		method: capabilityMethod()}
	err = f.studyEach(t, &s, len(texts), func(part *table) (finding, error) { return f.judged(part, limits) })
	if err != nil {
		return err
	}
	s.overview(titled{"n", "n"}, titled{"mean", "Mean"}, titled{"sd_overall", "Spread"}, titled{"cpk", "Cpk"}, titled{"ppk", "Ppk"},
		titled{"ppk_low", "Ppk, low"}, titled{"nonconforming_observed", "Beyond limits"})
	s.drawAll = drawBadByGroup(s)
	return f.show(c, s)
}

func capabilityMethod() []string {
	return []string{
		"Cp, Cpk, Pp, Ppk: Montgomery, Introduction to Statistical Quality Control, 8.3. Intervals: chi-square for Cp and Pp; noncentral t with one limit (Owen, Technometrics 10 (1968) 445), Bissell's with two (Applied Statistics 39 (1990) 331); Boyles' for Cpm (Journal of Quality Technology 23 (1991) 17).",
		"Anderson-Darling by Stephens with the adjustment for n, Shapiro-Wilk by Royston AS R94 (up to 5000 values). A large p does not prove that values are normal.",
		"Expected share beyond the limits: a normal law with the overall spread. Percentile indices: ISO 22514-2, by the sample's own 0.135 % and 99.865 % quantiles, which are too good below 740 values. Box-Cox: the power of greatest likelihood, for values above 0.",
	}
}

// limits are those of the flags; open sides are infinite.
func (f *capabilityFlags) limits() (capability.Limits, error) {
	l := capability.Limits{Lower: f.lower.or(math.Inf(-1)), Upper: f.upper.or(math.Inf(1)), Target: f.target.or(math.NaN())}
	if f.lower.set && f.upper.set && !(l.Lower < l.Upper) {
		return l, trouble("", "--lower %s is not below --upper %s", show(l.Lower), show(l.Upper))
	}
	if !f.lower.set && !f.upper.set && f.ledger.path == "" {
		return l, trouble("--lower L, --upper U, or both", "no limit to fit between")
	}
	_, err := f.method(nil)
	return l, err
}

func limitWords(l capability.Limits) string {
	switch {
	case math.IsInf(l.Lower, 0):
		return "below " + show(l.Upper)
	case math.IsInf(l.Upper, 0):
		return "above " + show(l.Lower)
	}
	return "between " + show(l.Lower) + " and " + show(l.Upper)
}

// withinNames are the names of the methods, as spread numbers them.
func withinNames() []string {
	return []string{"pooled", "pooled-unbiased", "range", "deviation", "moving-range"}
}

// rangeUpTo is the size of subgroups up to which ranges lose little against
// standard deviations (Montgomery, 6.3).
const rangeUpTo = 10

// method is the way to the spread within.
func (f *capabilityFlags) method(subgroups [][]float64) (spread.Method, error) {
	if f.within != "" {
		at := slices.Index(withinNames(), f.within)
		if at < 0 {
			return 0, trouble("--within "+strings.Join(withinNames(), ", or "), "--within %q is no method", f.within)
		}
		if spread.Method(at) != spread.MovingRange && f.subgroup == "" {
			return 0, trouble("--subgroup COLUMN, or --within moving-range", "--within %s without subgroups", f.within)
		}
		return spread.Method(at), nil
	}
	if f.subgroup == "" {
		return spread.MovingRange, nil
	}
	for _, g := range subgroups {
		if len(g) > rangeUpTo {
			return spread.MeanDeviation, nil
		}
	}
	return spread.MeanRange, nil
}

// judged is the study of one group.
func (f *capabilityFlags) judged(t *table, l capability.Limits) (finding, error) {
	if err := t.enough(2); err != nil {
		return finding{}, err
	}
	if err := t.spreads(); err != nil {
		return finding{}, err
	}
	subgroups := [][]float64{t.values}
	if f.subgroup != "" {
		_, subgroups = t.subgroups(0)
	}
	by, err := f.method(subgroups)
	if err != nil {
		return finding{}, err
	}
	if by == spread.MovingRange {
		subgroups = [][]float64{t.values} // neighbours in the order of the source
	}
	r, err := capability.Study(subgroups, l, by, f.confidence.value)
	if err != nil {
		return finding{}, trouble("", "%s: %w", t.source, err)
	}
	sorted := slices.Sorted(slices.Values(t.values))
	c := capable{t: t, limits: l, report: r, sorted: sorted, subgroups: len(subgroups), method: withinNames()[by]}
	c.shaped()
	return f.answer(c), nil
}

// spreads refuses values that are all alike: no index is defined for them.
func (t *table) spreads() error {
	low, high := slices.Min(t.values), slices.Max(t.values)
	if low == high {
		return trouble("look at how the values were taken and rounded", "%s: zero spread: all %d values of %q are %s", t.source, len(t.values), t.column, show(low))
	}
	return nil
}

// capable is a capability study with what pictures and tables need.
type capable struct {
	t         *table
	limits    capability.Limits
	report    capability.Report
	sorted    []float64
	subgroups int
	method    string
	// percentiles are the indices by the sample's quantiles; boxCox those of
	// the transformed values, with the transformation.
	percentiles   capability.Percentiles
	boxCox        capability.BoxCox
	boxPp, boxPpk float64
}

// shaped computes the indices for values that are not normal.
func (c *capable) shaped() {
	c.percentiles = c.limits.FromQuantiles(capability.Empirical(c.sorted))
	c.boxCox.Lambda, c.boxPp, c.boxPpk = math.NaN(), math.NaN(), math.NaN()
	if c.sorted[0] <= 0 || len(c.sorted) < 3 {
		return
	}
	b, err := capability.FitBoxCox(c.t.values)
	if err != nil {
		return
	}
	c.boxCox = b
	moved := make([]float64, len(c.t.values))
	for i, v := range c.t.values {
		moved[i] = b.Of(v)
	}
	limits := b.Transform(c.limits)
	if r, err := capability.Study([][]float64{moved}, limits, spread.MovingRange, usual); err == nil {
		c.boxPp, c.boxPpk = r.Pp.Value, r.Ppk.Value
	}
}

// answer makes the finding of a study.
func (f *capabilityFlags) answer(c capable) finding {
	r := c.report
	var out finding
	out.fields.add("n", r.N)
	out.fields.number("mean", r.Mean)
	out.fields.number("sd_overall", r.SDOverall)
	out.fields.number("sd_within", r.SDWithin)
	out.fields.add("within_method", c.method)
	indices := page.StudyTable{Columns: []page.StudyColumn{left("Index"), right("Value"), right("Low"), right("High"), left("What it compares the limits with")}}
	for _, x := range []struct {
		name, label, says string
		index             capability.Index
	}{
		{"cp", "Cp", "the spread within", r.Cp}, {"cpk", "Cpk", "the spread within, to the nearer limit", r.Cpk},
		{"pp", "Pp", "the overall spread", r.Pp}, {"ppk", "Ppk", "the overall spread, to the nearer limit", r.Ppk},
		{"cpm", "Cpm", "the spread about the target", r.Cpm},
	} {
		out.fields.number(x.name, x.index.Value)
		out.fields.interval(x.name, x.index.Interval)
		if !math.IsNaN(x.index.Value) {
			indices.Rows = append(indices.Rows, row(x.label, show(x.index.Value), show(x.index.Low), show(x.index.High), x.says))
		}
	}
	for _, x := range []struct {
		name  string
		value float64
	}{
		{"anderson_darling", r.AndersonDarling.Statistic}, {"anderson_darling_p", r.AndersonDarling.P},
		{"shapiro_wilk", r.ShapiroWilk.Statistic}, {"shapiro_wilk_p", r.ShapiroWilk.P},
		{"nonconforming_expected", r.NonconformingExpected}, {"nonconforming_observed", r.NonconformingObserved},
		{"percentile_pp", c.percentiles.Pp}, {"percentile_ppk", c.percentiles.Ppk},
		{"box_cox_lambda", c.boxCox.Lambda}, {"box_cox_pp", c.boxPp}, {"box_cox_ppk", c.boxPpk},
	} {
		out.fields.number(x.name, x.value)
	}
	out.section.Facts = c.facts()
	out.section.Tables = []page.StudyTable{indices}
	out.draw = c.draw
	f.needs(&out, r)
	return out
}

// needs judges by the lower ends of the intervals.
func (f *capabilityFlags) needs(out *finding, r capability.Report) {
	for _, x := range []struct {
		name  string
		need  number
		index capability.Index
	}{{"Cpk", f.needCpk, r.Cpk}, {"Ppk", f.needPpk, r.Ppk}} {
		if x.need.set {
			out.judge(x.index.Low >= x.need.value, fmt.Sprintf("%s is at least %s at %s confidence, %s is needed",
				x.name, show(x.index.Low), percent(1-(1-f.confidence.value)/2), show(x.need.value)))
		}
	}
}

func (c capable) facts() []page.Row {
	r := c.report
	facts := []page.Row{
		{Label: "values", Text: whole(r.N)},
		{Label: "mean", Text: show(r.Mean)},
		{Label: "overall spread", Text: show(r.SDOverall)},
		{Label: "spread within", Text: fmt.Sprintf("%s (%s%s)", show(r.SDWithin), c.method, c.groupWords())},
		{Label: "normal?", Text: fmt.Sprintf("Anderson-Darling %s, p %s; Shapiro-Wilk %s, p %s", show(r.AndersonDarling.Statistic), showP(r.AndersonDarling.P), show(r.ShapiroWilk.Statistic), showP(r.ShapiroWilk.P))},
		{Label: "beyond the limits", Text: fmt.Sprintf("expected %s, seen %s", percent(r.NonconformingExpected), percent(r.NonconformingObserved))},
	}
	if r.AndersonDarling.P < 0.05 || r.ShapiroWilk.P < 0.05 {
		facts = append(facts, page.Row{Label: "not normal", Text: "the indices below suppose normal values; by percentiles Ppk is " + show(c.percentiles.Ppk) +
			", after a Box-Cox transformation (power " + show(c.boxCox.Lambda) + ") " + show(c.boxPpk)})
	}
	if r.SDWithin == 0 {
		facts = append(facts, page.Row{Label: "no spread within", Text: "all values of a subgroup are alike: Cp and Cpk are not defined"})
	}
	return append(facts, c.t.leftRows()...)
}

func (c capable) groupWords() string {
	if c.subgroups < 2 {
		return ""
	}
	return fmt.Sprintf(", %d subgroups", c.subgroups)
}
