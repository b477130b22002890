package statistics

import (
	"github.com/spf13/cobra"

	"sinkproof/reports/page"
	"sinkproof/reports/quality/moments"
)

// momentsFlags are the flags of sinkproof study moments.
type momentsFlags struct {
	inputs
	outputs
}

func newMoments(explain func(error) error) *cobra.Command {
	var f momentsFlags
	f.ledger.explain = explain
	c := &cobra.Command{
		Use:   "moments FILE",
		Short: "Describes values: mean, spread, shape, and how each resembles the one before",
		Long: `Reads values once, in memory that does not grow with them unless a page is asked
for.

skewness and kurtosis are the sample estimates G1 and G2 (excess, 0 for the
normal law); skewness_g1 and kurtosis_g2 those of the population. The lag-1
autocorrelation takes the values in their order. What is undefined - a skewness
of two values, or of values that are all alike - is left out.

--json prints n, mean, sd, skewness, kurtosis, lag1_autocorrelation, min, max,
skewness_g1, kurtosis_g2; with --by a list "groups".`,
		Example: `  sinkproof study moments readings.csv --value vbus
  cut -d, -f3 readings.csv | sinkproof study moments - --json
  sinkproof study moments --ledger line/ledger.db --check rd-cc1 --by lot`,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	f.inputs.add(c.Flags())
	f.outputs.add(c.Flags())
	return c
}

func (f *momentsFlags) run(c *cobra.Command, args []string) error {
	s, err := f.study(c, args)
	if err != nil {
		return err
	}
	return f.show(c, s)
}

// study streams: one running sample for each group.
func (f *momentsFlags) study(c *cobra.Command, args []string) (study, error) {
	var parts []*moments.Running
	var kept [][]float64 // for pictures
	o, err := f.each(c, args, want{texts: f.grouped()}, func(e entry) error {
		at := 0
		if f.by != "" {
			at = int(e.codes[0])
		}
		if at == len(parts) {
			parts, kept = append(parts, &moments.Running{}), append(kept, nil)
		}
		parts[at].Add(e.value)
		if f.page != "" || f.pdf != "" {
			kept[at] = append(kept[at], e.value)
		}
		return nil
	})
	if err != nil {
		return study{}, err
	}
	s := study{kind: "Moments", title: o.title(), started: o.started, simulation: o.simulation, by: f.by,
		method: []string{"Skewness and kurtosis G1 and G2: Joanes and Gill, The Statistician 47 (1998) 183. Autocorrelation as in the NIST Statistical Reference Datasets."}}
	if len(parts) == 0 {
		parts = []*moments.Running{{}}
	}
	if f.by != "" && len(o.texts) > 0 {
		s.groups = o.texts[0]
	}
	for i, p := range parts {
		part := o
		if f.by != "" && i < len(s.groups) {
			part.source += ", " + s.groups[i]
		}
		if err := part.enough(p.N(), 2); err != nil {
			return s, err
		}
		one := momentsOf(part, p.Moments())
		one.draw = func() (figures, error) { return drawMoments(part, kept[i], p.Moments()) }
		s.findings = append(s.findings, one)
	}
	s.overview(titled{"n", "n"}, titled{"mean", "Mean"}, titled{"sd", "Std. dev."}, titled{"skewness", "Skewness"},
		titled{"kurtosis", "Kurtosis"}, titled{"min", "Smallest"}, titled{"max", "Largest"})
	return s, nil
}

func momentsOf(o origin, m moments.Moments) finding {
	var f finding
	f.fields.add("n", m.N)
	for _, x := range []struct {
		name, label string
		value       float64
	}{
		{"mean", "mean", m.Mean}, {"sd", "standard deviation", m.SD}, {"skewness", "skewness G1", m.Skewness},
		{"kurtosis", "excess kurtosis G2", m.Kurtosis}, {"lag1_autocorrelation", "lag-1 autocorrelation", m.Lag1},
		{"min", "smallest", m.Min}, {"max", "largest", m.Max},
		{"skewness_g1", "skewness g1", m.SkewnessG1}, {"kurtosis_g2", "excess kurtosis g2", m.KurtosisG2},
	} {
		f.fields.number(x.name, x.value)
		f.section.Facts = append(f.section.Facts, page.Row{Label: x.label, Text: show(x.value)})
	}
	f.section.Facts = append([]page.Row{{Label: "values", Text: whole(m.N)}}, f.section.Facts...)
	f.section.Facts = append(f.section.Facts, o.leftRows()...)
	return f
}

// leftRows tell of rows that were left out.
func (o origin) leftRows() []page.Row {
	text := o.leftOut()
	if text == "" {
		return nil
	}
	return []page.Row{{Label: "left out", Text: text}}
}
