package page

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestSamplesAreValidRecords(t *testing.T) {
	require.NoError(t, richRun().Validate())
	require.NoError(t, longRun().Validate())
}

// The whole view of one record stands in testdata, where a person has looked
// at it.
func TestViewIsTheOneLookedAt(t *testing.T) {
	const golden = "testdata/view.json"
	got, err := json.MarshalIndent(NewReport(richRun(), proof()), "", "  ")
	require.NoError(t, err)
	if os.Getenv("UPDATE_VIEW") != "" {
		require.NoError(t, os.WriteFile(golden, append(got, '\n'), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	require.Empty(t, cmp.Diff(string(want), string(got)+"\n"))
}

func TestCausesComeFirstAndConsequencesApart(t *testing.T) {
	r := NewReport(richRun(), proof())
	require.Len(t, r.Trouble, 2)
	require.Equal(t, 3, r.Trouble[0].Number)
	require.Equal(t, "As a consequence check 5 failed, and check 6 could not be answered.", r.Trouble[0].Consequences)
	require.Equal(t, 7, r.Trouble[1].Number, "what could not be answered of itself comes after what failed")
	require.Equal(t, Open, r.Trouble[1].Tone)
	require.Empty(t, r.Trouble[1].Consequences)
	require.Equal(t, "at least 1.301 s is above 1.15 s; follows from check 3", r.Groups[4].Checks[0].Why)
	require.Equal(t, "not asked: check 5 has not passed", r.Groups[4].Checks[1].Why)
}

func TestCausesAreFollowed(t *testing.T) {
	check := func(name string, answer record.Answer, why string) record.Check {
		return record.Check{Name: name, Title: name, Answer: answer, Why: why}
	}
	cases := []struct {
		name   string
		checks []record.Check
		found  []record.Finding
		want   string
	}{
		{"a chain", []record.Check{
			check("a", record.Failed, "x"), check("b", record.Failed, "y; follows from the fail of a"),
			check("c", record.Unanswered, "not asked: b has not passed")}, nil,
			"a: As a consequence check 2 failed, and check 3 could not be answered."},
		{"no power", []record.Check{
			check("a", record.Failed, "x"), check("b", record.Unanswered, "not asked: no power without probe-vbus, and a has not passed")}, nil,
			"a: As a consequence check 2 could not be answered."},
		{"an unknown cause", []record.Check{check("b", record.Failed, "y; follows from the fail of a")}, nil, "b: "},
		{"a circle", []record.Check{
			check("a", record.Failed, "x; follows from the fail of b"), check("b", record.Failed, "y; follows from the fail of a")}, nil,
			"a: ; b: "},
		{"itself", []record.Check{check("a", record.Failed, "x; follows from the fail of a")}, nil, "a: "},
		{"a cause that passed", []record.Check{
			check("a", record.Passed, ""), check("b", record.Unanswered, "not asked: a has not passed")}, nil, "b: "},
		{"a finding that came later", []record.Check{
			check("a", record.Failed, "x"), check("b", record.Failed, "y")},
			[]record.Finding{{Title: "b", Rework: "mend b", For: []string{"b", "a"}}}, "b: As a consequence check 1 failed."},
		{"two rounds of one trouble", []record.Check{
			{Name: "a", Title: "a", Answer: record.Failed, Rework: "mend"}, {Name: "b", Title: "b", Answer: record.Failed, Rework: "mend"}},
			[]record.Finding{{Title: "a", Rework: "mend", For: []string{"a", "b"}}}, "a: ; b: "},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, x := range newTable(record.Run{Checks: c.checks, Suspects: c.found}).trouble() {
				got = append(got, x.Title+": "+x.Consequences)
			}
			require.Equal(t, c.want, strings.Join(got, "; "))
		})
	}
}

func TestNoFailIsHidden(t *testing.T) {
	for _, run := range []record.Run{richRun(), longRun()} {
		table := newTable(run)
		var told strings.Builder
		for _, x := range table.trouble() {
			told.WriteString(" " + numbered([]int{x.Number}) + " " + x.Consequences)
		}
		listed := expand(told.String())
		for i, c := range run.Checks {
			if c.Answer != record.Passed {
				require.Contains(t, listed, i+1, "check %d is told in the box", i+1)
			}
		}
	}
}

// expand reads the numbers of "checks 4, 6 to 9" back.
func expand(text string) map[int]bool {
	found, last, ranged := map[int]bool{}, 0, false
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == '.' }) {
		n := 0
		for _, d := range word {
			if d < '0' || d > '9' {
				n = 0
				break
			}
			n = n*10 + int(d-'0')
		}
		if n > 0 {
			for i := last + 1; ranged && i < n; i++ {
				found[i] = true
			}
			found[n], last = true, n
		}
		ranged = word == "to"
	}
	return found
}

func TestNumbered(t *testing.T) {
	require.Equal(t, "check 4", numbered([]int{4}))
	require.Equal(t, "checks 4, 5", numbered([]int{4, 5}))
	require.Equal(t, "checks 4 to 6, 8, 10, 11", numbered([]int{4, 5, 6, 8, 10, 11}))
	require.Equal(t, map[int]bool{4: true, 5: true, 6: true, 8: true}, expand(numbered([]int{4, 5, 6, 8})))
}

func TestSourcesAreNumberedOnce(t *testing.T) {
	r := NewReport(richRun(), proof())
	require.Equal(t, []Source{{1, "product file"}, {2, "USB Type-C R2.5, Table 4-3"}, {3, sourceRd}, {4, sourceSafe}, {5, sourceAttach}}, r.Sources)
	require.Equal(t, "3.008 µF [1] to 10 µF [2]", plainSpaces(r.Groups[0].Checks[0].Limits))
	require.Equal(t, r.Groups[1].Checks[0].Limits, r.Groups[2].Checks[0].Limits)
}

func TestChecksOfOneConditionStandTogether(t *testing.T) {
	r := NewReport(richRun(), proof())
	var titles []string
	count := 0
	for _, g := range r.Groups {
		titles = append(titles, g.Title)
		for _, c := range g.Checks {
			count++
			require.Equal(t, count, c.Number)
		}
	}
	require.Equal(t, 8, count)
	require.Equal(t, []string{
		"A limited current on VBUS", "A known pull-up at CC1, VBUS off", "A known pull-up at CC2, VBUS off",
		"A C supply, the unit's CC pins cut off", "A C supply, plain cable", "A C supply, marked cable", "During the whole run",
	}, titles)
	require.Equal(t, "The bench's data pair, nothing seated", conditionText("data-pair"))
	require.Equal(t, "Bright-room", conditionText("bright-room"), "another rig's condition stands as it is")
}

func TestVerdictAndBinInWords(t *testing.T) {
	cases := []struct {
		verdict record.Verdict
		bin     record.Bin
		want    string
		tone    Tone
		told    string
	}{
		{record.Pass, record.BinPass, "PASS", Good, "Bin: pass"},
		{record.Fail, record.BinRework, "FAIL", Bad, "Bin: rework"},
		{record.Fail, record.BinQuarantine, "FAIL", Bad, "do not charge"},
		{record.None, record.BinRetest, "NO VERDICT", Open, "could not judge"},
		{"", "", "NO VERDICT", Open, "could not judge"},
	}
	for _, c := range cases {
		t.Run(c.want+string(c.bin), func(t *testing.T) {
			run := richRun()
			run.Verdict, run.Bin = c.verdict, c.bin
			r := NewReport(run, proof())
			require.Equal(t, c.want, r.Verdict)
			require.Equal(t, c.tone, r.Tone)
			require.Contains(t, r.Bin, c.told)
		})
	}
}

func TestWhyThereIsNoVerdictIsSaid(t *testing.T) {
	run := richRun()
	run.Verdict, run.Bin, run.Reason = record.None, record.BinRetest, "the bench went away"
	run.Fault = &record.BenchFault{AtUS: 2_100_000, What: "bleeder: VBUS 1.2 V after 500 ms", Hint: "check R40 and K9"}
	r := NewReport(run, proof())
	require.Equal(t, "the bench went away", r.Reason)
	require.Equal(t, Row{"bench fault", "2.100\u00a0s: bleeder: VBUS 1.2 V after 500 ms. Next: check R40 and K9"}, r.Notes[0])
	run.Verdict = record.Fail
	require.Empty(t, NewReport(run, proof()).Reason, "the failed checks stand there with their values instead")
}

func TestReworkComesFromChecksWhereNothingWasFound(t *testing.T) {
	run := richRun()
	run.Suspects = nil
	require.Equal(t, []Rework{{Title: "Termination at CC2", Text: "fit R12 (5.1 kΩ)", Checks: "for it: check 3"}}, NewReport(run, proof()).Rework)
}

func TestWaveformsThatCannotBeDrawnAreTold(t *testing.T) {
	run := richRun()
	run.Waveforms[0].Samples[1] = 1e300
	run.Waveforms = append(run.Waveforms, record.Waveform{Title: "nothing"}, attach(1))
	r := NewReport(run, proof())
	require.Len(t, r.Figures, 1)
	require.Equal(t, Row{"Waveform", "nothing: no samples"}, r.Notes[len(r.Notes)-1])
	require.Contains(t, r.Notes[len(r.Notes)-2].Text, "1e+300")
}

func TestTemperaturesAreShownInCelsius(t *testing.T) {
	f, err := figure(record.Waveform{Title: "t", Channel: "temperature", Unit: "K", IntervalUS: 1, Samples: []float64{296.15, 297.15},
		Thresholds: []record.Threshold{{Label: "hot", Value: 318.15}}})
	require.NoError(t, err)
	require.InDelta(t, 23, f.Curve[0].Y, 1e-9)
	require.InDelta(t, 45, f.Levels[0].Y, 1e-9)
	require.Equal(t, "°C", f.Y.Unit)
	require.True(t, f.Y.Floating)
}

// Printing a view must not change it: two documents are made from one.
func TestPrintableLeavesTheViewAlone(t *testing.T) {
	run := richRun()
	run.Supplier, run.Checks[0].Title = "板厂", "电容"
	r := NewReport(run, proof())
	before, err := json.Marshal(r)
	require.NoError(t, err)
	p := r.printable()
	after, err := json.Marshal(r)
	require.NoError(t, err)
	require.Equal(t, string(before), string(after))
	require.Equal(t, "‹U+7535›‹U+5BB9›", p.Groups[0].Checks[0].Title)
	require.Equal(t, r.Code, p.Code)
}
