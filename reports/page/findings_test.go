package page

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// diagnosedRun is the rich run with what a diagnosis found in it.
func diagnosedRun() record.Run {
	run := richRun()
	likely, other, good := 0.9996, 0.125, 0.0
	run.Suspects = append([]record.Finding{
		{
			Title: "no termination", Fault: "no-rd", Probability: &likely, Rework: "Fit both resistors.",
			ReadingsFor:     []record.Testimony{{Reading: "r-cc2", Text: "Termination at CC2: 131 kΩ; good units give 4.9 kΩ to 5.3 kΩ", Weight: 6.9}},
			ReadingsAgainst: []record.Testimony{{Reading: "r-cc1", Text: "Termination at CC1: 5.1 kΩ; with this fault no value", Weight: -4}},
			Alike:           []string{"one pin open"}, Measure: "Resistance from A5 and B5 to ground",
		},
		{Title: "one pin open", Fault: "one", Probability: &other, Rework: "Fit one.", Alike: []string{"no termination"}},
	}, run.Suspects...)
	run.Diagnosis = &record.Diagnosis{Dictionary: strings.Repeat("ab", 32), Units: 4200, Priors: "all alike", Good: &good}
	return run
}

func TestFindingsComeBeforeWhatTheChecksAskFor(t *testing.T) {
	r := NewReport(diagnosedRun(), proof())
	require.Len(t, r.Findings.List, 2)
	first := r.Findings.List[0]
	require.Equal(t, "No termination", first.Title)
	require.Equal(t, "more than 99.9\u00a0%", first.Likely, "nothing is certain")
	require.Equal(t, "This scenario does not always tell it from: one pin open. What would: Resistance from A5 and B5 to ground.", first.Alike)
	require.Equal(t, "12.5\u00a0%", r.Findings.List[1].Likely)
	require.Contains(t, r.Findings.Basis, "4200 simulated units")
	require.Contains(t, r.Findings.Basis, "all alike")
	require.Len(t, r.Rework, 1, "what the failed checks ask for is as it was")
	require.Equal(t, askedHeading, r.ReworkHeading())

	for name, text := range map[string]string{
		"HTML": htmlText(t, diagnosedRun()),
		"PDF":  strings.Join(pageTexts(t, pdf(t, diagnosedRun())), " "),
	} {
		found, asked := strings.Index(text, findingsHeading), strings.Index(text, askedHeading)
		require.True(t, found >= 0 && asked > found, name)
		words := strings.Join(strings.Fields(text), " ")
		for _, want := range []string{"No termination", "Fit both resistors.", "Termination at CC2: 131", "Termination at CC1: 5.1", "for it", "against it"} {
			require.Contains(t, words, want, name)
		}
	}
}

func htmlText(t *testing.T, run record.Run) string {
	t.Helper()
	_, text := parsed(t, html(t, run))
	return text
}

// A run without a diagnosis looks as it did before there were any.
func TestNoFindingsLeaveNoTrace(t *testing.T) {
	r := NewReport(richRun(), proof())
	require.Empty(t, r.Findings)
	require.Equal(t, reworkHeading, r.ReworkHeading())
	require.NotContains(t, htmlText(t, richRun()), findingsHeading)
}

func TestWhyThereAreNoFindingsIsSaid(t *testing.T) {
	run := richRun()
	run.Diagnosis = &record.Diagnosis{Why: "the bench could not judge"}
	require.Equal(t, "The bench could not judge.", NewReport(run, proof()).Findings.Silent)
	require.Contains(t, htmlText(t, run), "The bench could not judge.")
	require.Contains(t, strings.Join(pageTexts(t, pdf(t, run)), " "), "The bench could not judge.")

	run.Verdict = record.Pass
	require.Empty(t, NewReport(run, proof()).Findings.Silent, "a passed unit needs none")
}
