package page

import (
	"fmt"
	"strconv"
	"strings"

	"sinkproof/reports/record"
)

// Findings is what a diagnosis says is most likely wrong.
type Findings struct {
	List []Finding
	// Basis says what the probabilities rest on; Silent, why there are none.
	Basis, Silent string
}

// Finding is a fault with its probability.
type Finding struct {
	Title string
	// Likely is the probability in words.
	Likely string
	Rework string
	// For and Against are the readings that speak for it and against it.
	For, Against []string
	// Alike names what the readings cannot always tell it from, and what
	// would.
	Alike string
}

// Heading of the findings, and of the rework that the failed checks ask for:
// the only one where there are no findings.
const (
	findingsHeading = "What is most likely wrong"
	reworkHeading   = "What to rework"
	askedHeading    = "What the failed checks ask for"
)

// FindingsHeading and ReworkHeading are the headings of the two sections.
func (r Report) FindingsHeading() string { return findingsHeading }

// ReworkHeading tells rework that a person must choose from, by the checks,
// from rework that a finding names.
func (r Report) ReworkHeading() string {
	if len(r.Findings.List) > 0 {
		return askedHeading
	}
	return reworkHeading
}

// diagnosed tells a finding of a diagnosis from one of the failed checks.
func diagnosed(f record.Finding) bool { return f.Fault != "" && f.Probability != nil }

// findings lists the faults that a diagnosis named.
func findings(run record.Run) Findings {
	var out Findings
	for _, f := range run.Suspects {
		if !diagnosed(f) {
			continue
		}
		one := Finding{
			Title: capital(tie(f.Title)), Likely: Likely(*f.Probability), Rework: f.Rework,
			For: said(f.ReadingsFor), Against: said(f.ReadingsAgainst), Alike: alikeText(f),
		}
		out.List = append(out.List, one)
	}
	d := run.Diagnosis
	switch {
	case d == nil || run.Verdict == record.Pass:
	case d.Why != "":
		out.Silent = capital(d.Why) + "."
	case len(out.List) > 0:
		out.Basis = fmt.Sprintf("By Bayes' rule from %d simulated units with known faults. Before the run: %s. Probabilities below 1\u00a0%% are left out.", d.Units, d.Priors)
	}
	return out
}

// Likely is a probability in words, never a certainty.
func Likely(p float64) string {
	if p > 0.999 {
		return "more than 99.9\u00a0%"
	}
	return fmt.Sprintf("%.1f\u00a0%%", 100*p)
}

func said(list []record.Testimony) []string {
	var out []string
	for _, t := range list {
		out = append(out, t.Text)
	}
	return out
}

// alikeText says what a fault cannot always be told from.
func alikeText(f record.Finding) string {
	if len(f.Alike) == 0 {
		return ""
	}
	text := "This scenario does not always tell it from: " + strings.Join(f.Alike, ", ") + "."
	if f.Measure == "" {
		return text
	}
	return text + " What would: " + f.Measure + "."
}

// printFindings sets the findings.
func (r Report) printFindings(s *sheet) {
	f := r.Findings
	if len(f.List) == 0 && f.Silent == "" {
		return
	}
	s.heading(findingsHeading, 40)
	if f.Silent != "" {
		s.paragraph("", f.Silent, 9, inkText)
	}
	for i, one := range f.List {
		number := strconv.Itoa(i+1) + "."
		s.paragraph(number, one.Title+", "+one.Likely+": "+one.Rework, 9, inkText)
		one.printReadings(s)
	}
	if f.Basis != "" {
		s.paragraph("", f.Basis, 7.5, quiet)
	}
}

func (f Finding) printReadings(s *sheet) {
	for _, t := range f.For {
		s.paragraph("for it:", t, 7.8, quiet)
	}
	for _, t := range f.Against {
		s.paragraph("against it:", t, 7.8, quiet)
	}
	if f.Alike != "" {
		s.paragraph("", f.Alike, 7.8, inkText)
	}
}
