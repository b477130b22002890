package findings

import (
	"fmt"
	"math"
	"strings"

	"sinkproof/reports/record"
)

// Attach puts what a diagnosis finds into a run, before what its failed checks
// ask for. A passed unit gets no suspects, only the probability that it is
// good; a run that the bench spoiled gets none either, and says so. A nil
// dictionary leaves why as the reason.
func Attach(run record.Run, d *Dictionary, p func(*Dictionary) Priors, why string) record.Run {
	if d == nil {
		run.Diagnosis = &record.Diagnosis{Why: why}
		return run
	}
	run.Diagnosis = &record.Diagnosis{Dictionary: d.hash, Units: d.Units}
	if why := d.silent(run); why != "" {
		run.Diagnosis.Why = why
		return run
	}
	found := d.Diagnose(run, p(d))
	run.Diagnosis.Priors = found.Priors
	if d.good() >= 0 {
		good := probability(found.Good)
		run.Diagnosis.Good = &good
	}
	if run.Verdict == record.Pass {
		return run
	}
	var list []record.Finding
	for _, s := range found.Suspects {
		list = append(list, s.finding())
	}
	run.Suspects = append(list, run.Suspects...)
	return run
}

// silent says why a run is not diagnosed. A fault of the bench is no finding
// about a unit: neither are the readings of a bench that failed.
func (d *Dictionary) silent(run record.Run) string {
	if run.Verdict != record.None {
		return ""
	}
	if run.Fault != nil {
		return "the bench could not judge, and the readings of a bench that failed accuse no unit"
	}
	for _, c := range run.Checks {
		if c.Control && c.Answer == record.Failed {
			return fmt.Sprintf("the control %q failed, and the readings of a bench that is not trusted accuse no unit", c.Name)
		}
	}
	if _, unseen := d.codes(SignatureOf(run), true); 2*unseen > len(d.names) {
		return fmt.Sprintf("the run was broken off: it came to %d of %d readings", len(d.names)-unseen, len(d.names))
	}
	return ""
}

func (s Suspect) finding() record.Finding {
	p := probability(s.Probability)
	f := record.Finding{
		Title: s.Class.Title, Fault: s.Class.Name, Probability: &p, Rework: s.Class.Rework,
		ReadingsFor: s.For, ReadingsAgainst: s.Against, Measure: s.Measure.How,
	}
	var left []string
	for _, c := range s.Alike {
		f.Alike = append(f.Alike, c.Title)
		if s.Measure.Shows[c.Name] == s.Measure.Shows[s.Class.Name] {
			left = append(left, c.Title)
		}
	}
	if f.Measure != "" && len(left) > 0 {
		f.Measure += " (not from: " + strings.Join(left, ", ") + ")"
	}
	return f
}

// probability keeps four decimals: more are none that a dictionary of some
// thousand units knows.
func probability(p float64) float64 { return math.Round(p*1e4) / 1e4 }
