package statistics

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/reports/quality/chart"
)

// chartFlags are the flags of sinkproof study chart.
type chartFlags struct {
	inputs
	outputs
	kind, subgroup, size, rules                   string
	target, sigma, weight, width, slack, decision number
	phase1                                        int
	judge                                         bool
}

// chartKinds are the kinds of charts, in the order of the help.
func chartKinds() []string {
	return []string{"xbar-r", "xbar-s", "individuals", "p", "np", "c", "u", "ewma", "cusum"}
}

func newChart(explain func(error) error) *cobra.Command {
	var f chartFlags
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "chart FILE --kind KIND",
		Short: "Watches whether a process stays what it was: control charts",
		Long: `--kind is one of
  xbar-r, xbar-s   means of subgroups (--subgroup) with their ranges or deviations
  individuals      single values with their moving ranges
  p, np            bad units (--value) among those tested (--size)
  c, u             faults per unit; per unit of --size
  ewma, cusum      exponentially weighted averages; cumulated sums from a target

--size names a column, or is a number where all are alike. With --subgroup the rows
of p, np, c and u are added up for each text; without --size each row of p and np is
then one unit, 0 or 1.

Limits come from the charted values themselves (phase 1), from the first --phase1
points of them, or are fixed by --target and --sigma (phase 2); for counts --target
is the rate. Sigma is that of single values; for ewma and cusum that of what is
plotted. --slack and --decision are in the unit of the values, half and five sigma
where they are left out; ewma has --weight 0.2 and limits at --width 3.

--rules is a list of
  ` + strings.Join(ruleWords(), ", ") + `,
or a set: western-electric, nelson. Each rule buys sooner alarms with more false
ones; the answer says how many. Without the flag, beyond-limits. --judge ends with 1
where a rule is broken.

--json prints kind, centre, lower, upper, sigma; spread_centre, spread_lower,
spread_upper where there is a second chart; points and spread_points, each with
index, label, value, lower, upper, violations; out (indices), rules (name,
false_alarms per point), run_length. Limits that differ from point to point stand at
the points only. lower and upper of an ewma are where its limits tend to.`,
		Example: `  sinkproof study chart rings.csv --kind xbar-r --value diameter --subgroup hour --phase1 25
  sinkproof study chart flow.csv --kind individuals --rules western-electric --page flow.html
  sinkproof study chart bad.csv --kind p --value bad --size tested
  sinkproof study chart --ledger line/ledger.db --check rd-cc1 --kind xbar-s --subgroup day`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fs := c.Flags()
	f.inputs.add(fs)
	f.outputs.add(fs)
	fs.StringVar(&f.kind, "kind", "", "`kind` of chart")
	fs.StringVar(&f.subgroup, "subgroup", "", "`column` that tells subgroups apart")
	fs.StringVar(&f.size, "size", "", "`column` of the numbers tested, or one number for all")
	fs.StringVar(&f.rules, "rules", "beyond-limits", "run `rules`, apart by commas")
	f.target.add(fs, "target", "known mean, or rate of counts")
	f.sigma.add(fs, "sigma", "known standard deviation")
	f.weight.add(fs, "weight", "weight of the newest value of an ewma (default 0.2)")
	f.width.add(fs, "width", "limits of an ewma, in its standard deviations (default 3)")
	f.slack.add(fs, "slack", "deviation that a cusum lets pass (default half sigma)")
	f.decision.add(fs, "decision", "decision interval of a cusum (default five sigma)")
	fs.IntVar(&f.phase1, "phase1", 0, "the first `number` of points make the limits for all")
	fs.BoolVar(&f.judge, "judge", false, "judge: no rule may be broken")
	return c
}

// ruleWords are the names of the rules.
func ruleWords() []string {
	var names []string
	for r := chart.BeyondLimits; r <= chart.EightBeyond; r++ {
		names = append(names, r.String())
	}
	return names
}

// parseRules reads names of rules and of sets.
func parseRules(text string) ([]chart.Rule, error) {
	var rules []chart.Rule
	for _, name := range strings.Split(text, ",") {
		name = strings.TrimSpace(name)
		set := []chart.Rule{}
		switch name {
		case "western-electric":
			set = chart.WesternElectric()
		case "nelson":
			set = chart.Nelson()
		default:
			r, err := chart.ParseRule(name)
			if err != nil {
				return nil, trouble("rules are "+strings.Join(ruleWords(), ", ")+"; sets are western-electric and nelson", "--rules: no rule %q", name)
			}
			set = append(set, r)
		}
		for _, r := range set {
			if !slices.Contains(rules, r) {
				rules = append(rules, r)
			}
		}
	}
	return rules, nil
}

// counts is the kind of a chart of counts.
func (f *chartFlags) counts() (chart.Count, bool) {
	at := slices.Index([]string{"p", "np", "c", "u"}, f.kind)
	return chart.Count(at), at >= 0
}

// check refuses flags that do not go together.
func (f *chartFlags) check(c *cobra.Command) error {
	_, counts := f.counts()
	memory := f.kind == "ewma" || f.kind == "cusum"
	pairs := strings.HasPrefix(f.kind, "xbar")
	switch {
	case !slices.Contains(chartKinds(), f.kind):
		return trouble("--kind "+strings.Join(chartKinds(), ", or "), "--kind %q is no kind of chart", f.kind)
	case pairs && f.subgroup == "":
		return trouble("--subgroup COLUMN, or --kind individuals", "--kind %s without subgroups", f.kind)
	case f.kind == "individuals" && f.subgroup != "":
		return trouble("--kind xbar-r charts subgroups", "--kind individuals takes single values, not --subgroup")
	case f.size != "" && (!counts || f.kind == "c"):
		return trouble("--kind p, np or u has sizes", "--size with --kind %s", f.kind)
	case counts && f.kind != "c" && f.size == "" && (f.subgroup == "" || f.kind == "u"):
		return trouble("--size COLUMN", "--kind %s without the numbers tested", f.kind)
	case counts && f.sigma.set:
		return trouble("--target is the known rate", "--sigma with --kind %s: the law of counts has it", f.kind)
	case memory && c.Flags().Changed("rules"):
		return trouble("", "--rules with --kind %s: its points are not independent, and its limits are the rule", f.kind)
	case f.phase1 < 0 || f.phase1 == 1:
		return trouble("two points at least", "--phase1 %d", f.phase1)
	case f.sigma.set && !(f.sigma.value > 0):
		return trouble("", "--sigma %s: a standard deviation is above 0", show(f.sigma.value))
	}
	return f.checkMemory()
}

// checkMemory refuses numbers outside the domain of the charts with memory,
// and flags of the other kinds.
func (f *chartFlags) checkMemory() error {
	for _, x := range []struct {
		name, kind string
		flag       number
		good       bool
		want       string
	}{
		{"weight", "ewma", f.weight, f.weight.value > 0 && f.weight.value <= 1, "above 0, at most 1"},
		{"width", "ewma", f.width, f.width.value > 0, "above 0"},
		{"slack", "cusum", f.slack, f.slack.value >= 0, "0 or more"},
		{"decision", "cusum", f.decision, f.decision.value > 0, "above 0"},
	} {
		if !x.flag.set {
			continue
		}
		if f.kind != x.kind {
			return trouble("--kind "+x.kind, "--%s with --kind %s", x.name, f.kind)
		}
		if !x.good {
			return trouble(x.want, "--%s %s", x.name, show(x.flag.value))
		}
	}
	return nil
}

func (f *chartFlags) run(c *cobra.Command, args []string) error {
	if err := f.check(c); err != nil {
		return err
	}
	rules, err := parseRules(f.rules)
	if err != nil {
		return err
	}
	w := want{}
	if f.subgroup != "" {
		w.texts = append(w.texts, f.subgroup)
	}
	if _, err := parseSize(f.size); f.size != "" && err != nil {
		w.numbers = append(w.numbers, f.size)
	}
	byColumn := len(w.texts)
	w.texts = f.grouped(w.texts...)
	t, err := f.read(c, args, w)
	if err != nil {
		return err
	}
	s := study{kind: chartTitle(f.kind), title: t.title(), started: t.started, simulation: t.simulation,
		lead: "Whether the process stayed what it was.", method: f.sources()}
	err = f.studyEach(t, &s, byColumn, func(part *table) (finding, error) { return f.charted(part, rules) })
	if err != nil {
		return err
	}
	s.overview(titled{"centre", "Centre"}, titled{"lower", "Lower"}, titled{"upper", "Upper"}, titled{"sigma", "Sigma"})
	if _, ok := f.counts(); ok && f.by != "" {
		s.drawAll = drawPareto(s, t, byColumn)
	}
	return f.show(c, s)
}

func chartTitle(kind string) string {
	return map[string]string{
		"xbar-r": "Control chart of means and ranges", "xbar-s": "Control chart of means and standard deviations",
		"individuals": "Control chart of individual values", "p": "Control chart of the fraction bad", "np": "Control chart of the number bad",
		"c": "Control chart of faults", "u": "Control chart of faults per unit", "ewma": "Chart of weighted averages (EWMA)", "cusum": "Chart of cumulated sums (CUSUM)",
	}[kind]
}

func (f *chartFlags) sources() []string {
	switch f.kind {
	case "ewma":
		return []string{"Montgomery, Introduction to Statistical Quality Control, 9.2; run length by Crowder, Technometrics 29 (1987) 401."}
	case "cusum":
		return []string{"Page, Biometrika 41 (1954) 100; NIST/SEMATECH e-Handbook, 6.3.2.3; run length by the integral equation of Brook and Evans, Biometrika 59 (1972) 539. A sum is not reset by its alarm."}
	}
	return []string{
		"Limits at three standard deviations of the plotted statistic; the constants are computed, not looked up (Montgomery, Introduction to Statistical Quality Control, 6 and 7).",
		"Rules: Western Electric, Statistical Quality Control Handbook (1956); Nelson, Journal of Quality Technology 16 (1984) 237. A pattern is reported at its last point.",
	}
}
