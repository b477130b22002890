package findings

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestWhatARunIsGiven(t *testing.T) {
	d := kept(t, sampleDictionary(t, 60))
	own := record.Finding{Title: "Charge current (a)", Rework: "check it", For: []string{"charge[a]"}}
	with := func(class string, change func(*record.Run)) record.Run {
		run := sampleRun(class, 1)
		run.Suspects = []record.Finding{own}
		if change != nil {
			change(&run)
		}
		return Attach(run, d, (*Dictionary).Equal, "")
	}
	t.Run("a failed unit", func(t *testing.T) {
		run := with(weak, nil)
		require.Equal(t, weak, run.Suspects[0].Fault)
		require.Equal(t, "the fault weak", run.Suspects[0].Title)
		require.Equal(t, "mend weak", run.Suspects[0].Rework)
		require.Greater(t, *run.Suspects[0].Probability, 0.9)
		require.NotEmpty(t, run.Suspects[0].ReadingsFor)
		require.Equal(t, own, run.Suspects[len(run.Suspects)-1], "what the failed checks ask for stays, behind it")
		require.Len(t, run.Diagnosis.Dictionary, 64)
		require.Equal(t, 420, run.Diagnosis.Units)
		require.NotEmpty(t, run.Diagnosis.Priors)
		require.Less(t, *run.Diagnosis.Good, 0.1)
	})
	t.Run("a passed unit has nothing to rework", func(t *testing.T) {
		run := with(Good, func(r *record.Run) { r.Suspects = nil })
		require.Empty(t, run.Suspects)
		require.Greater(t, *run.Diagnosis.Good, 0.8)
	})
	t.Run("faults alike are named", func(t *testing.T) {
		run := with(dark, nil)
		require.Contains(t, []string{dim, dark}, run.Suspects[0].Fault)
		require.Len(t, run.Suspects[0].Alike, 1)
	})
	for name, c := range map[string]struct {
		change func(*record.Run)
		why    string
	}{
		"a bench that failed": {func(r *record.Run) {
			r.Verdict, r.Fault = record.None, &record.BenchFault{What: "the bus is silent"}
		}, "accuse no unit"},
		"a control that failed": {func(r *record.Run) {
			r.Verdict = record.None
			r.Checks = append(r.Checks, record.Check{Name: "cold", Control: true, Answer: record.Failed})
		}, `the control "cold" failed`},
		"a run that came to little": {func(r *record.Run) {
			r.Verdict, r.Readings, r.Checks = record.None, r.Readings[:1], nil
		}, "broken off: it came to 1 of"},
	} {
		t.Run(name, func(t *testing.T) {
			run := with(weak, c.change)
			require.Contains(t, run.Diagnosis.Why, c.why)
			require.Equal(t, []record.Finding{own}, run.Suspects, "no fault is named")
			require.Nil(t, run.Diagnosis.Good)
		})
	}
	t.Run("an answer left open is no fault of the bench", func(t *testing.T) {
		run := with(weak, func(r *record.Run) { r.Verdict = record.None })
		require.Empty(t, run.Diagnosis.Why)
		require.Equal(t, weak, run.Suspects[0].Fault)
	})
	t.Run("no dictionary", func(t *testing.T) {
		run := Attach(sampleRun(weak, 1), nil, nil, "there is none")
		require.Equal(t, &record.Diagnosis{Why: "there is none"}, run.Diagnosis)
		require.Empty(t, run.Suspects)
	})
}

// What the measurement does not tell the fault from is said with it.
func TestAFindingSaysWhatItsMeasurementLeaves(t *testing.T) {
	s := Suspect{
		Class:   Class{Name: "rd-51k", Title: "51 kΩ"},
		Alike:   []Class{{Name: "rd-10k", Title: "10 kΩ"}, {Name: "overcharge", Title: "end of charge"}},
		Measure: Measurement{How: "Ohms", Shows: map[string]string{"rd-51k": "26 kΩ", "rd-10k": "6 kΩ"}},
	}
	require.Equal(t, "Ohms", s.finding().Measure)
	s.Measure.Shows["rd-10k"] = "26 kΩ"
	require.Equal(t, "Ohms (not from: 10 kΩ)", s.finding().Measure)
}
