package statistics

import (
	"math"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality/gauge"
)

// mapped makes one of each.
func mapped[A, B any](list []A, of func(A) B) []B {
	out := []B{}
	for _, x := range list {
		out = append(out, of(x))
	}
	return out
}

// fields are the share for a program, with kappa under a name, if any.
func (a agreed) fields(kappa string) fields {
	f := fields{{name: "appraiser", value: a.who}, {name: "alike", value: a.alike}}
	f.number("share", a.share.Estimate)
	f.interval("share", a.share.ClopperPearson)
	if kappa != "" {
		f.number(kappa, a.Kappa)
	}
	return f
}

func kappaFields(a gauge.Agreement) fields {
	var f fields
	f.number("observed", a.Observed)
	f.number("chance", a.Chance)
	f.number("kappa", a.Kappa)
	f.interval("kappa", a.Interval)
	return f
}

// twoSided is the p of a standard normal deviate; NaN of NaN.
func twoSided(z float64) float64 {
	return math.Erfc(math.Abs(z) / math.Sqrt2)
}

// shares is the interval of a share.
func shares(a agreed) string {
	i := a.share.ClopperPearson
	return percent(i.Low) + " to " + percent(i.High)
}

func (a agreement) tables() []page.StudyTable {
	var out []page.StudyTable
	if len(a.within) > 0 {
		t := page.StudyTable{Title: "Each appraiser with itself", Columns: []page.StudyColumn{left("Appraiser"), right("Parts alike"), right("Share"), right("Interval"), right("Kappa")}}
		for _, w := range a.within {
			t.Rows = append(t.Rows, row(w.who, whole(w.alike), percent(w.share.Estimate), shares(w), show(w.Kappa)))
		}
		out = append(out, t)
	}
	if len(a.reference) > 0 {
		t := page.StudyTable{Title: "Each appraiser with the reference", Note: "a part counts where every trial is as the reference",
			Columns: []page.StudyColumn{left("Appraiser"), right("Parts right"), right("Share"), right("Interval"), right("Kappa"), right("Low"), right("High")}}
		for _, r := range a.reference {
			t.Rows = append(t.Rows, row(r.who, whole(r.alike), percent(r.share.Estimate), shares(r), show(r.Kappa), show(r.Low), show(r.High)))
		}
		out = append(out, t)
	}
	if len(a.pairs) > 0 {
		t := page.StudyTable{Title: "Appraisers with each other", Columns: []page.StudyColumn{left("One"), left("Other"), right("Agree"), right("By chance"), right("Kappa"), right("Low"), right("High")}}
		for _, p := range a.pairs {
			t.Rows = append(t.Rows, row(p.a, p.b, percent(p.Observed), percent(p.Chance), show(p.Kappa), show(p.Low), show(p.High)))
		}
		out = append(out, t)
	}
	return out
}

// draw are the kappas with their intervals.
func (f *agreementFlags) draw(a agreement) (figures, error) {
	var list []ranged
	for _, p := range a.kappas() {
		if len(list) < mostGroups && !math.IsNaN(p.Kappa) {
			list = append(list, ranged{p.a + " – " + p.b, p.Kappa, p.Interval})
		}
	}
	if len(list) == 0 {
		return nil, nil
	}
	d := intervalsPicture("Kappa", plot.Axis{Name: "kappa"}, list, 0, 1)
	d.Marks = []plot.Mark{{Label: "by chance", X: 0}}
	if f.accept.set {
		d.Marks = append(d.Marks, plot.Mark{Label: "wanted", X: f.accept.value})
	}
	return figures{wide(d)}, nil
}
