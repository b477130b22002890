package scenarios

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// emptyRig is a rig with a channel and nothing else.
func emptyRig() *wiring.Rig {
	return &wiring.Rig{Name: "empty", Channels: []wiring.Channel{{Name: "vbus", Kind: wiring.VoltageChannel}}}
}

// measured is a voltage with an expanded uncertainty.
func measured(v, u float64) quantity.Measured {
	return quantity.NewMeasured(quantity.Volts(v), quantity.Contribution{Source: "x", Std: u / 2, Sens: 1, Dist: "normal"})
}

func between(low, high float64) Check {
	l, h := quantity.Volts(low), quantity.Volts(high)
	return Check{Name: "c", Low: &l, High: &h, Source: "test"}
}

var (
	simple  = record.Decision{Rule: record.Simple}
	guarded = record.Decision{Rule: record.Guarded, Guard: 1}
)

// Guarded acceptance as in JCGM 106:2012, 8.3.2, figure 9: with limits 1 to 2
// and U = 0.1 the acceptance interval is 1.1 to 1.9.
func TestGuardBandDrawsTheLimitsIn(t *testing.T) {
	for _, c := range []struct {
		v               float64
		simple, guarded record.Answer
	}{
		{0.99, record.Failed, record.Failed}, {1.0, record.Passed, record.Failed}, {1.09, record.Passed, record.Failed},
		{1.11, record.Passed, record.Passed}, {1.5, record.Passed, record.Passed}, {1.89, record.Passed, record.Passed},
		{1.91, record.Passed, record.Failed}, {2.0, record.Passed, record.Failed}, {2.01, record.Failed, record.Failed},
	} {
		j, err := judge(measured(c.v, 0.1), between(1, 2), simple)
		require.NoError(t, err)
		require.Equal(t, c.simple, j.answer, "simple %g", c.v)
		require.InDelta(t, 1, j.lower.Acceptance, 1e-12, "the simple rule compares with the limit itself")
		j, err = judge(measured(c.v, 0.1), between(1, 2), guarded)
		require.NoError(t, err)
		require.Equal(t, c.guarded, j.answer, "guarded %g", c.v)
		require.InDelta(t, 1.1, j.lower.Acceptance, 1e-12)
		require.InDelta(t, 1.9, j.upper.Acceptance, 1e-12)
		require.InDelta(t, 1, j.lower.Value, 1e-12, "the record keeps the tolerance limit beside it")
	}
}

func TestBoundsAnswerOnlyAsAWhole(t *testing.T) {
	low, high := quantity.Volts(1), quantity.Volts(2)
	onlyLow, onlyHigh := Check{Low: &low, Source: "t"}, Check{High: &high, Source: "t"}
	for _, c := range []struct {
		name  string
		check Check
		bound quantity.Bound
		v     float64
		want  record.Answer
	}{
		{"at least, above the high limit", between(1, 2), quantity.AtLeast, 3, record.Failed},
		{"at least, inside", between(1, 2), quantity.AtLeast, 1.5, record.Unanswered},
		{"at least, below the low limit", between(1, 2), quantity.AtLeast, 0.5, record.Unanswered},
		{"at most, below the low limit", between(1, 2), quantity.AtMost, 0.5, record.Failed},
		{"at most, inside", between(1, 2), quantity.AtMost, 1.5, record.Unanswered},
		{"at least, only a low limit", onlyLow, quantity.AtLeast, 1.5, record.Passed},
		{"at most, only a high limit", onlyHigh, quantity.AtMost, 1.5, record.Passed},
		{"at least, only a high limit", onlyHigh, quantity.AtLeast, 1.5, record.Unanswered},
		{"at most, only a low limit", onlyLow, quantity.AtMost, 1.5, record.Unanswered},
	} {
		j, err := judge(quantity.Known(quantity.Volts(c.v)).WithBound(c.bound), c.check, guarded)
		require.NoError(t, err)
		require.Equal(t, c.want, j.answer, c.name)
		require.Equal(t, j.answer == record.Passed, j.why == "", "everything but a pass says why")
	}
}

func TestBenchTooCoarseForTheLimitsLeavesTheAnswerOpen(t *testing.T) {
	for v, want := range map[float64]record.Answer{1.5: record.Unanswered, 1.0: record.Unanswered, 4: record.Failed, -1: record.Failed} {
		j, err := judge(measured(v, 0.8), between(1, 2), guarded)
		require.NoError(t, err)
		require.Equal(t, want, j.answer, "%g", v)
	}
}

// Whatever passes under a guard passes under a smaller one, and what fails
// under the simple rule fails under every guard.
func TestLargerGuardNeverAcceptsMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0, 3).Draw(t, "v")
		u := rapid.Float64Range(0, 0.4).Draw(t, "u")
		r := rapid.Float64Range(0.01, 1).Draw(t, "r")
		more, err := judge(measured(v, u), between(1, 2), record.Decision{Rule: record.Guarded, Guard: r * 1.2})
		require.NoError(t, err)
		less, err := judge(measured(v, u), between(1, 2), record.Decision{Rule: record.Guarded, Guard: r})
		require.NoError(t, err)
		plain, err := judge(measured(v, u), between(1, 2), simple)
		require.NoError(t, err)
		if more.answer == record.Passed {
			require.Equal(t, record.Passed, less.answer)
		}
		if plain.answer == record.Failed {
			require.Equal(t, record.Failed, less.answer)
		}
	})
}

func TestReasonsPrintAsAPersonReadsThem(t *testing.T) {
	j, err := judge(measured(2.5, 0.01), between(1, 2), guarded)
	require.NoError(t, err)
	require.Equal(t, "2.500 V ± 0.010 V is above 1.990 V, the limit 2 V drawn in by the guard band", j.why)
	high := quantity.Amperes(1.035 * 0.42)
	j, err = judge(quantity.Known(quantity.Amperes(0.8)).WithBound(quantity.AtLeast), Check{High: &high, Source: "t"}, simple)
	require.NoError(t, err)
	require.Equal(t, "at least 800.0 mA is above 434.7 mA", j.why)
}

// answered builds the outcome of a check.
func answered(name string, a record.Answer, s standing, bin record.Bin, because ...string) *outcome {
	return &outcome{
		check:  Check{Name: name, Title: "title of " + name, Bin: bin, Rework: "rework " + name, Because: because},
		answer: record.Check{Answer: a, Why: "why " + name}, standing: s,
	}
}

func TestVerdictFollowsTheAnswers(t *testing.T) {
	pass := answered("p", record.Passed, judged, record.BinRework)
	fail := answered("f", record.Failed, judged, record.BinRework)
	hazard := answered("h", record.Failed, judged, record.BinQuarantine)
	open := answered("u", record.Unanswered, untrusted, record.BinRework)
	skipped := answered("s", record.Unanswered, notAsked, record.BinRework)
	control := answered("c", record.Failed, benchFailed, record.BinRework)
	for _, c := range []struct {
		name    string
		list    []*outcome
		fault   string
		verdict record.Verdict
		bin     record.Bin
	}{
		{"all pass", []*outcome{pass}, "", record.Pass, record.BinPass},
		{"one fails", []*outcome{pass, fail, skipped}, "", record.Fail, record.BinRework},
		{"a fail stands beside an open answer", []*outcome{fail, open}, "", record.Fail, record.BinRework},
		{"a hazard decides the bin", []*outcome{fail, hazard}, "", record.Fail, record.BinQuarantine},
		{"one is open", []*outcome{pass, open}, "", record.None, record.BinRetest},
		{"not asked is no pass", []*outcome{pass, skipped}, "", record.None, record.BinRetest},
		{"a control failed by the bench", []*outcome{pass, fail, control}, "", record.None, record.BinRetest},
		{"a fault of the bench", []*outcome{pass, fail}, "the bus died", record.None, record.BinRetest},
		{"a hazard stays one without a verdict", []*outcome{hazard}, "the bus died", record.None, record.BinQuarantine},
		{"nothing asked", nil, "", record.None, record.BinRetest},
	} {
		var o outcomes
		for _, x := range c.list {
			o.add(x)
		}
		verdict, reason, bin := o.verdict(c.fault)
		require.Equal(t, c.verdict, verdict, c.name)
		require.Equal(t, c.bin, bin, c.name)
		require.Equal(t, verdict == record.Pass, reason == "", c.name)
	}
}

func TestConsequencesAreNoFindingsOfTheirOwn(t *testing.T) {
	var o outcomes
	o.add(answered("rd", record.Failed, judged, record.BinRework))
	o.add(answered("attach", record.Failed, judged, record.BinRework, "rd", "later"))
	o.add(answered("current", record.Failed, judged, record.BinRework, "attach"))
	o.add(answered("later", record.Passed, judged, record.BinRework))
	got := o.findings()
	require.Equal(t, []record.Finding{{Title: "title of rd", Rework: "rework rd", For: []string{"rd", "attach"}}}, got)
}

func TestFindingsThatAskForTheSameAreJoined(t *testing.T) {
	var o outcomes
	a, b := answered("a[1]", record.Failed, judged, record.BinRework), answered("a[2]", record.Failed, judged, record.BinRework)
	b.check.Rework = a.check.Rework
	o.add(a)
	o.add(b)
	require.Equal(t, []string{"a[1]", "a[2]"}, o.findings()[0].For)
	require.Len(t, o.findings(), 1)
}
