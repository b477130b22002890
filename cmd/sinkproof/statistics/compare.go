package statistics

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/compare"
)

// compareFlags are the flags of sinkproof study compare.
type compareFlags struct {
	inputs
	outputs
	margin     number
	confidence confidence
	between    string
	groups     []string
}

func newCompare(explain func(error) error) *cobra.Command {
	var f compareFlags
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "compare A B",
		Short: "Tells whether two samples differ, or are alike enough",
		Long: `Two files, or one source whose column --between tells two groups apart. A
difference is always the first minus the second.

Welch's t compares the means, Mann and Whitney's U the ranks, Kolmogorov and
Smirnov's D any difference; a large p says only that none was seen. --margin asks
the other question: do the means differ by less than the margin (two one-sided
tests, at the risk 1 - confidence)? The program ends with 1 where that was not
shown.

With --by every group is compared apart; the p-values of all are then also adjusted,
after Holm (welch_p_holm) and after Benjamini and Hochberg (welch_p_bh), and
equivalence is judged after Holm.

--json prints n_a, n_b, mean_a, mean_b, sd_a, sd_b, mean_difference with _low and
_high, welch_t, welch_df, welch_p, mann_whitney_u (pairs in which the first is
larger), mann_whitney_p, shift with _low and _high, ks_d, ks_p, effect_size with
_low and _high, variance_ratio, variance_ratio_p, levene_p; with --margin margin,
equivalence_p, equivalent.`,
		Example: `  sinkproof study compare new.csv old.csv --value rd
  sinkproof study compare new.csv old.csv --value reading --by check --margin 0.05
  sinkproof study compare --ledger line/ledger.db --check rd-cc1 --between supplier --margin 50`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	f.inputs.add(fs)
	f.outputs.add(fs)
	f.margin.add(fs, "margin", "judge: the means must be shown to differ by less than this")
	f.confidence.add(fs)
	fs.StringVar(&f.between, "between", "", "`column` of one source that tells the two groups apart")
	fs.StringSliceVar(&f.groups, "groups", nil, "the `two` texts of --between that are compared, apart by a comma")
	return c
}

// pairOf is two samples that are compared.
type pairOf struct{ a, b *table }

func (f *compareFlags) run(c *cobra.Command, args []string) error {
	if f.margin.set && !(f.margin.value > 0) {
		return trouble("in the unit of the values", "--margin %s is no margin", show(f.margin.value))
	}
	if f.margin.set && !(f.confidence.value > 0.5) {
		return trouble("", "--confidence %s: above 0.5 for a margin", show(f.confidence.value))
	}
	read := f.twoFiles
	switch {
	case f.between != "":
		read = f.oneFile
	case len(f.groups) > 0:
		return trouble("--between COLUMN", "--groups without --between")
	case f.ledger.path != "":
		return trouble("--between supplier, or lot, or another column", "which two groups of the ledger?")
	case len(args) != 2:
		return trouble(c.CommandPath()+" A.csv B.csv, or one file with --between COLUMN", "two files are compared, found %d", len(args))
	}
	first, names, groups, err := read(c, args)
	if err != nil {
		return err
	}
	s := study{kind: "Comparison", title: fmt.Sprintf("%s: %s against %s", first.column, names[0], names[1]), started: first.started, simulation: first.simulation, by: f.by,
		lead: fmt.Sprintf("Whether %s and %s differ. A difference is the first minus the second.", names[0], names[1]), method: f.sources()}
	var compared []comparison
	for _, g := range groups {
		if f.by != "" {
			s.groups = append(s.groups, g.name)
		}
		one, err := f.compared(g.pairOf)
		if err != nil {
			return err
		}
		compared = append(compared, one)
	}
	f.adjust(compared)
	for _, one := range compared {
		s.findings = append(s.findings, f.answer(one, names))
	}
	if f.by != "" {
		s.summary = append(s.summary, f.overview(s.groups, compared))
		s.drawAll = drawEffects(f.by, s.groups, compared)
	}
	return f.show(c, s)
}

func (f *compareFlags) sources() []string {
	list := []string{"Welch, Biometrika 34 (1947) 28; Mann and Whitney, Annals of Mathematical Statistics 18 (1947) 50, exact below 50 values without ties; Kolmogorov and Smirnov, exact for small samples without ties; Levene by medians (Brown and Forsythe, JASA 69 (1974) 364); effect size Hedges' g."}
	if f.margin.set {
		list = append(list, "Equivalence: Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987) 657.")
	}
	if f.by != "" {
		list = append(list, "Adjusted p-values: Holm, Scandinavian Journal of Statistics 6 (1979) 65; Benjamini and Hochberg, JRSS B 57 (1995) 289.")
	}
	return list
}

// named is a pair of one group.
type named struct {
	name string
	pairOf
}

// twoFiles reads two files; with --by group by group.
func (f *compareFlags) twoFiles(c *cobra.Command, args []string) (*table, [2]string, []named, error) {
	if args[0] == "-" && args[1] == "-" {
		return nil, [2]string{}, nil, trouble("name a file for one of them", "standard input twice")
	}
	var both [2]*table
	for i := range both {
		t, err := f.read(c, args[i:i+1], want{texts: f.grouped()})
		if err != nil {
			return nil, [2]string{}, nil, err
		}
		both[i] = t
	}
	names := [2]string{both[0].source, both[1].source}
	if names[0] == names[1] {
		names = [2]string{args[0], args[1]}
	}
	if f.by == "" {
		return both[0], names, []named{{pairOf: pairOf{both[0], both[1]}}}, nil
	}
	groups, err := matched(both[0].split(0), both[1].split(0), both[0].texts[0], both[1].texts[0], names)
	return both[0], names, groups, err
}

// matched pairs the groups of two files by their names.
func matched(a, b []*table, namesA, namesB []string, files [2]string) ([]named, error) {
	other := map[string]*table{}
	for i, n := range namesB {
		other[n] = b[i]
	}
	var groups []named
	for i, n := range namesA {
		if other[n] == nil {
			return nil, trouble("both files need the same groups", "%s has the group %q, %s has not", files[0], n, files[1])
		}
		groups = append(groups, named{n, pairOf{a[i], other[n]}})
		delete(other, n)
	}
	for _, n := range namesB {
		if other[n] != nil {
			return nil, trouble("both files need the same groups", "%s has the group %q, %s has not", files[1], n, files[0])
		}
	}
	return groups, nil
}

// oneFile reads one source and parts it by --between; with --by each group.
func (f *compareFlags) oneFile(c *cobra.Command, args []string) (*table, [2]string, []named, error) {
	fail := func(err error) (*table, [2]string, []named, error) { return nil, [2]string{}, nil, err }
	t, err := f.read(c, args, want{texts: f.grouped(f.between)})
	if err != nil {
		return fail(err)
	}
	parts := t.split(0)
	names, err := f.two(t.texts[0])
	if err != nil {
		return fail(err)
	}
	var both [2]*table
	for i, n := range t.texts[0] {
		for side := range both {
			if n == names[side] {
				both[side] = parts[i]
			}
		}
	}
	if f.by == "" {
		return t, names, []named{{pairOf: pairOf{both[0], both[1]}}}, nil
	}
	a, b := both[0].split(1), both[1].split(1)
	var groups []named
	for i, n := range t.texts[1] {
		groups = append(groups, named{n, pairOf{a[i], b[i]}})
	}
	return t, names, groups, nil
}

// two are the groups that are compared.
func (f *compareFlags) two(found []string) ([2]string, error) {
	if len(f.groups) > 0 {
		if len(f.groups) != 2 || f.groups[0] == f.groups[1] {
			return [2]string{}, trouble("--groups A,B", "--groups takes two different texts")
		}
		for _, g := range f.groups {
			if !contains(found, g) {
				return [2]string{}, trouble("there is "+strings.Join(found, ", "), "no %q in column %q", g, f.between)
			}
		}
		return [2]string{f.groups[0], f.groups[1]}, nil
	}
	if len(found) != 2 {
		return [2]string{}, trouble("--groups A,B names two of them", "column %q tells %s apart, two are compared", f.between, counted(len(found), "group"))
	}
	return [2]string{found[0], found[1]}, nil
}

func contains(list []string, text string) bool {
	for _, x := range list {
		if x == text {
			return true
		}
	}
	return false
}

// comparison is one pair with its answers.
type comparison struct {
	pairOf
	x, y      compare.Sample
	welch     compare.Means
	ranks     compare.Ranks
	distance  compare.Distance
	effect    compare.Effect
	variances compare.Ratio
	levene    compare.Groups
	equal     compare.Equivalence
	// holm and bh are the adjusted p-values of Welch's test, equalHolm that of
	// equivalence; NaN where one pair is compared.
	holm, bh, equalHolm float64
}

func (f *compareFlags) compared(p pairOf) (comparison, error) {
	c := comparison{pairOf: p, holm: math.NaN(), bh: math.NaN(), equalHolm: math.NaN()}
	for _, t := range []*table{p.a, p.b} {
		if err := t.enough(2); err != nil {
			return c, err
		}
	}
	var err error
	if c.x, err = compare.Of(p.a.values); err == nil {
		c.y, err = compare.Of(p.b.values)
	}
	if err != nil {
		return c, trouble("", "%w", err)
	}
	if c.x.SD == 0 && c.y.SD == 0 {
		return c, trouble("look at how the values were taken and rounded", "zero spread: all values of %s are %s, all of %s are %s", p.a.source, show(c.x.Mean), p.b.source, show(c.y.Mean))
	}
	level := f.confidence.value
	c.welch = compare.Welch(c.x, c.y, level)
	c.effect = compare.EffectSize(c.x, c.y, level)
	c.variances = compare.VarianceRatio(c.x, c.y, level)
	if c.ranks, err = compare.MannWhitney(p.a.values, p.b.values, level); err == nil {
		c.distance, err = compare.KolmogorovSmirnov(p.a.values, p.b.values)
	}
	if err == nil {
		c.levene, err = compare.Levene([][]float64{p.a.values, p.b.values})
	}
	if err != nil {
		return c, trouble("", "%w", err)
	}
	if f.margin.set {
		c.equal = c.welch.Equivalent(f.margin.value, 1-level)
	}
	return c, nil
}

// adjust fills the adjusted p-values where several pairs are compared.
func (f *compareFlags) adjust(all []comparison) {
	if f.by == "" {
		return
	}
	var differ, equal []float64
	for _, c := range all {
		differ, equal = append(differ, c.welch.P), append(equal, c.equal.P)
	}
	holm, bh, equalHolm := compare.Holm(differ), compare.BenjaminiHochberg(differ), compare.Holm(equal)
	for i := range all {
		all[i].holm, all[i].bh = holm[i], bh[i]
		if f.margin.set {
			all[i].equalHolm = equalHolm[i]
		}
	}
}

func (f *compareFlags) answer(c comparison, names [2]string) finding {
	var out finding
	out.fields.add("n_a", c.x.N)
	out.fields.add("n_b", c.y.N)
	for _, x := range []struct {
		name  string
		value float64
	}{
		{"mean_a", c.x.Mean}, {"mean_b", c.y.Mean}, {"sd_a", c.x.SD}, {"sd_b", c.y.SD},
		{"mean_difference", c.welch.Difference}, {"mean_difference_low", c.welch.Low}, {"mean_difference_high", c.welch.High},
		{"welch_t", c.welch.T}, {"welch_df", c.welch.DF}, {"welch_p", c.welch.P}, {"welch_p_holm", c.holm}, {"welch_p_bh", c.bh},
		{"mann_whitney_u", c.ranks.U}, {"mann_whitney_p", c.ranks.P}, {"shift", c.ranks.Shift}, {"shift_low", c.ranks.Low}, {"shift_high", c.ranks.High},
		{"ks_d", c.distance.D}, {"ks_p", c.distance.P},
		{"effect_size", c.effect.G}, {"effect_size_low", c.effect.Low}, {"effect_size_high", c.effect.High},
		{"variance_ratio", c.variances.F}, {"variance_ratio_p", c.variances.P}, {"levene_p", c.levene.P},
	} {
		out.fields.number(x.name, x.value)
	}
	out.section.Facts = []page.Row{
		{Label: names[0], Text: fmt.Sprintf("%s, mean %s, standard deviation %s", counted(c.x.N, "value"), show(c.x.Mean), show(c.x.SD))},
		{Label: names[1], Text: fmt.Sprintf("%s, mean %s, standard deviation %s", counted(c.y.N, "value"), show(c.y.Mean), show(c.y.SD))},
		{Label: "difference of means", Text: fmt.Sprintf("%s (%s)", show(c.welch.Difference), between(c.welch.Interval))},
		{Label: "effect size", Text: fmt.Sprintf("%s standard deviations (%s)", show(c.effect.G), between(c.effect.Interval))},
	}
	for _, t := range []*table{c.a, c.b} {
		out.section.Facts = append(out.section.Facts, t.leftRows()...)
	}
	out.section.Tables = []page.StudyTable{c.tests()}
	out.draw = func() (figures, error) { return drawCompare(c, names, f.margin) }
	f.equivalent(&out, c)
	return out
}

func (c comparison) tests() page.StudyTable {
	exact := func(is bool) string {
		if is {
			return ", exact"
		}
		return ""
	}
	t := page.StudyTable{Columns: []page.StudyColumn{left("Test"), left("Of"), right("Statistic"), right("p")}, Rows: []page.StudyRow{
		row("Welch", "means", fmt.Sprintf("t %s, df %s", show(c.welch.T), show(c.welch.DF)), showP(c.welch.P)),
		row("Mann-Whitney", "ranks"+exact(c.ranks.Exact), "U "+show(c.ranks.U), showP(c.ranks.P)),
		row("Kolmogorov-Smirnov", "any difference"+exact(c.distance.Exact), "D "+show(c.distance.D), showP(c.distance.P)),
		row("variance ratio", "spreads, if normal", "F "+show(c.variances.F), showP(c.variances.P)),
		row("Levene", "spreads", "F "+show(c.levene.Statistic), showP(c.levene.P)),
	}}
	if !math.IsNaN(c.holm) {
		t.Note = fmt.Sprintf("Welch's p among all that are compared: %s after Holm, %s after Benjamini and Hochberg", showP(c.holm), showP(c.bh))
	}
	return t
}

// equivalent judges whether the means are alike enough.
func (f *compareFlags) equivalent(out *finding, c comparison) {
	if !f.margin.set {
		return
	}
	p := c.equal.P
	if !math.IsNaN(c.equalHolm) {
		p = c.equalHolm
	}
	alike := p <= 1-f.confidence.value
	out.fields.number("margin", f.margin.value)
	out.fields.number("equivalence_p", c.equal.P)
	out.fields.number("equivalence_p_holm", c.equalHolm)
	out.fields.number("equivalence_low", c.equal.Low)
	out.fields.number("equivalence_high", c.equal.High)
	out.fields.add("equivalent", alike)
	verb := "was shown"
	if !alike {
		verb = "was not shown"
	}
	out.judge(alike, fmt.Sprintf("that the means differ by less than %s %s (p %s; %s %% interval %s)", show(f.margin.value), verb, showP(p),
		digits(100*(2*f.confidence.value-1), 4), between(c.equal.Interval)))
}

// overview lists all pairs below each other.
func (f *compareFlags) overview(groups []string, all []comparison) page.StudySection {
	t := page.StudyTable{Title: "All groups", Columns: []page.StudyColumn{left(f.by), right("Difference"), right("Low"), right("High"), right("p"), right("p, Holm"), right("p, Benjamini-Hochberg")}}
	if f.margin.set {
		t.Columns = append(t.Columns, right("p of equivalence, Holm"))
	}
	for i, c := range all {
		cells := []string{groups[i], show(c.welch.Difference), show(c.welch.Low), show(c.welch.High), showP(c.welch.P), showP(c.holm), showP(c.bh)}
		if f.margin.set {
			cells = append(cells, showP(c.equalHolm))
		}
		t.Rows = append(t.Rows, row(cells...))
	}
	return page.StudySection{Tables: []page.StudyTable{t}}
}
