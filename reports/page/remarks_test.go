package page

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

func TestNotesThatDifferInNumbersStandOnce(t *testing.T) {
	note := func(at int64, kind, text string) record.Note { return record.Note{AtUS: at, Kind: kind, Text: text} }
	cases := []struct {
		name  string
		notes []record.Note
		want  []Row
	}{
		{"none", nil, nil},
		{"one", []record.Note{note(1e6, "guard", "held at 1.8 V")}, []Row{{"guard", "1.000\u00a0s: held at 1.8 V"}}},
		{"alike", []record.Note{note(1e6, "guard", "held at 1.8 V"), note(2e6, "re-seat", "seated"), note(3e6, "guard", "held at 1.79 V")},
			[]Row{{"guard", "1.000\u00a0s: held at 1.8 V (and 1 more like it, the last at 3.000\u00a0s)"}, {"re-seat", "2.000\u00a0s: seated"}}},
		{"of another kind", []record.Note{note(1e6, "guard", "held"), note(2e6, "control", "held")},
			[]Row{{"guard", "1.000\u00a0s: held"}, {"control", "2.000\u00a0s: held"}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, notes(record.Run{Notes: c.notes})) })
	}
}

func TestWhatIsHiddenStandsUnderItsCause(t *testing.T) {
	require.Equal(t, []Row{
		{"The cell is sealed in", "End of charge; vbat-low"},
		{"Its terminations are in no controller", "Clamp at CC1"},
	}, hidden(richRun()))
}

func TestFindingsNameTheChecksForAndAgainst(t *testing.T) {
	table := newTable(richRun())
	require.Equal(t, "for it: checks 1 to 3; against it: check 4", table.speaking([]string{"rd-cc2", "bulk", "rd-cc1", "bulk"}, []string{"cold"}))
	require.Equal(t, "against it: gone", table.speaking(nil, []string{"gone"}))
	require.Empty(t, table.speaking(nil, nil))
}

// No text of the view is forgotten, whatever is added to it: each one is
// replaced, but for those that machines read.
func TestEachReachesEveryText(t *testing.T) {
	r := NewReport(richRun(), proof())
	r.each(func(string) string { return "*" })
	kept := map[string]bool{r.Code: true, r.Hash: true, r.Started: true}
	var walk func(v reflect.Value, path string)
	walk = func(v reflect.Value, path string) {
		switch v.Kind() {
		case reflect.String:
			require.True(t, v.String() == "*" || kept[v.String()], "%s is %q", path, v.String())
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i), path)
			}
		case reflect.Struct:
			if v.Type() == reflect.TypeFor[plot.Figure]() {
				return
			}
			for i := range v.NumField() {
				walk(v.Field(i), path+"."+v.Type().Field(i).Name)
			}
		}
	}
	walk(reflect.ValueOf(r), "Report")
	require.Equal(t, "sinkproof LMP-000017 "+proof().Hash, r.Code)
}

func TestChannelsAndConditionsHaveNames(t *testing.T) {
	for name, want := range map[string]string{
		"vbus": "VBUS", "cc1": "CC1", "cc2": "CC2", "ibus": "current", "vforce": "VBUS of the supply", "vbat": "cell",
		"vprobe": "probe rail", "rd1": "Rd at CC1", "rd2": "Rd at CC2", "light": "light", "another": "another",
	} {
		require.Equal(t, want, channelText(name))
	}
	// The conditions of the shipped rigs; none may stand as its bare name.
	seen := map[string]bool{}
	for _, name := range []string{"", "isolated", "probe-vbus", "probe-cc1", "probe-cc2", "legacy-a", "c-supply", "c-supply-marked",
		"no-termination", "stand-in", "portable", "cell-substitute", "detached"} {
		text := conditionText(name)
		require.NotEqual(t, capital(name), text)
		require.False(t, seen[text], "two conditions are called %q", text)
		seen[text] = true
	}
}

func TestSamplingIsStated(t *testing.T) {
	w := record.Waveform{StartUS: 3_000_000, IntervalUS: 1163, Samples: []float64{1, 2, 3}}
	require.Equal(t, "3 samples, 1.163 ms apart on average, from 3.000 s of the run", plainSpaces(sampling(w)))
	w.Samples = w.Samples[:1]
	require.Equal(t, "1 sample, at 3.000 s of the run", plainSpaces(sampling(w)))
}

func TestDecisionRulesNameTheirSource(t *testing.T) {
	require.Equal(t, "guarded: limits drawn in by 1 U (JCGM 106, 8.3)", decisionText(record.Decision{Rule: record.Guarded, Guard: 1}))
	require.Equal(t, "simple acceptance (JCGM 106, 8.2)", decisionText(record.Decision{Rule: record.Simple}))
	require.Equal(t, "first", attemptText(1))
	require.Contains(t, calibrationText("", ""), "tolerances of the wiring file")
}
