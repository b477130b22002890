package statistics

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const (
	agreementLine  = "study agreement - --part p --appraiser a --value v"
	points         = " --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.1 --consumer-risk 0.1"
	doubleLine     = "lot double --first-size 50 --first-accept 1 --second-size 100 --second-accept 3"
	sequentialLine = "lot sequential - --value v" + points
	stabilityLine  = "study stability - --value v --time t"
)

// TestBadJudgements: files that are not of numbers are refused as exactly.
func TestBadJudgements(t *testing.T) {
	for _, c := range []struct{ name, line, text, want string }{
		{"empty", agreementLine, "", "empty"},
		{"header alone", agreementLine, "p,a,v\n", "no value"},
		{"one class", agreementLine, "p,a,v\n1,x,pass\n1,y,pass\n", "zero spread"},
		{"missing column", agreementLine, "p,a,w\n1,x,pass\n", `no column "v"`},
		{"missing field", agreementLine, "p,a,v\n1,x,pass\n1,y\n", "line 3"},
		{"missing cell", agreementLine, "p,a,v\n1,x,pass\n1,y,\n", `line 3, column "v": empty`},
		{"missing part", agreementLine, "p,a,v\n1,x,pass\n,y,fail\n", `line 3, column "p": empty`},
		{"no text", agreementLine, "p,a,v\n\x00", "not text"},
		{"unbalanced", agreementLine, "p,a,v\n1,x,pass\n1,y,fail\n2,x,pass\n", `"y" judged part "2" 0 times`},
		{"trials", agreementLine, "p,a,v\n1,x,pass\n1,y,fail\n1,x,pass\n", `"y" judged part "1" 1 times`},
		{"two truths", agreementLine + " --reference r", "p,a,v,r\n1,x,pass,pass\n1,y,pass,fail\n", `line 3, column "r": part "1" is "fail" here and "pass"`},
		{"nothing to agree with", agreementLine + " --accept 0.5", "p,a,v\n1,x,pass\n2,x,fail\n", "one judgement of each part"},
		{"undefined kappa", agreementLine + " --accept 0.5 --reference r", "p,a,v,r\n1,x,pass,pass\n2,x,pass,pass\n1,y,pass,pass\n2,y,fail,pass\n", `"x" with "the reference" is not defined`},
		{"no results", sequentialLine, "v\n", "no result"},
		{"no result", sequentialLine, "v\n0\n1\nnone\n", `line 4, column "v": "none" is no result`},
		{"half a bad unit", sequentialLine, "v\n0\n0.5\n", `line 3, column "v"`},
		{"empty result", sequentialLine, "u,v\n1,0\n2,\n", `line 3, column "v"`},
		{"no such results", sequentialLine, "w\n0\n", `no column "v"`},
		{"no time", stabilityLine, "t,v\n1,5\nx,6\n2,7\n", `line 3, column "t"`},
		{"time of neither kind", stabilityLine, "t,v\nmonday,5\n", `line 2, column "t": "monday" is no time`},
		{"a day that is none", stabilityLine, "t,v\n2026-05-01,5\n2026-05-32,5\n", `line 3, column "t": "2026-05-32" is no time`},
		{"number after dates", stabilityLine, "t,v\n2026-05-01,5\n3,5\n", `line 3, column "t": a number after dates`},
		{"date after numbers", stabilityLine, "t,v\n3,5\n2026-05-01,5\n", `line 3, column "t": a date after numbers`},
		{"one session", stabilityLine, "t,v\n1,5\n1,6\n1,7\n", "a line needs two places"},
		{"text among readings", stabilityLine, "t,v\n1,5\n1,6\n1,?\n", `line 4, column "v"`},
		{"one reference", "study linearity - --value v --reference t", "t,v\n1,5\n1,6\n1,7\n", "a line needs two places"},
		{"reference once", "study linearity - --value v --reference t", "t,v\n1,5\n1,6\n2,7\n", "at reference 2"},
		{"text among references", "study linearity - --value v --reference t", "t,v\n1,5\n1,6\n?,7\n", `line 4, column "t"`},
		{"too few for the plan", "lot variables - --value v --upper 9 --k 1 --sample-size 4", "v\n1\n2\n3\n", "3 values of \"v\", the plan takes 4"},
		{"too many for the plan", "lot variables - --value v --upper 9 --k 1 --sample-size 3", "v\n1\n2\n3\n4\n", "4 values"},
	} {
		t.Run(c.name, func(t *testing.T) { refused(t, c.text, strings.Fields(c.line), c.want) })
	}
}

// TestUsageOfTruthAndPlans: what the flags do not allow.
func TestUsageOfTruthAndPlans(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"study bias - --value v", "value of the reference"},
		{"study bias - --value v --reference 5 --accept 5", "which tolerance"},
		{"study bias - --value v --reference 5 --accept 0 --tolerance 1", "--accept 0"},
		{"study bias - --value v --reference 5 --tolerance 0", "no width"},
		{"study bias --reference 5", "no file"},
		{"study linearity - --value v", "values of the references"},
		{"study linearity --reference t", "no file"},
		{"study stability - --value v", "holds the times"},
		{"study stability --time t", "no file"},
		{"study stability a b --time t", "one file"},
		{"study agreement - --appraiser a --value v", "names the part"},
		{"study agreement - --part p --value v", "who judged"},
		{"study agreement - --part p --appraiser a", "holds the judgements"},
		{"study agreement - --part p --appraiser a --value v --accept 2", "--accept 2"},
		{"study agreement --part p --appraiser a --value v", "no file"},
		{"lot variables", "which plan"},
		{"lot variables --sample-size 5", "--k is missing"},
		{"lot variables --k 1", "--sample-size 0"},
		{"lot variables --k 1 --sample-size 2", "3 units at least"},
		{"lot variables --k 1 --sample-size 5 --sigma 0", "--sigma 0"},
		{"lot variables --k 1 --sample-size 5" + points, "both"},
		{"lot variables --k 1 --sample-size 5 --upper 3", "no values"},
		{"lot variables --k 1 --sample-size 5 --at x", "no fraction"},
		{"lot variables - --k 1 --sample-size 5", "no limit"},
		{"lot variables - --k 1 --sample-size 5 --lower 2 --upper 1", "not below"},
		{"lot variables --producer-quality 0.1", "missing"},
		{"lot variables --ledger x.db --k 1 --sample-size 5", "without --check"},
		{"lot variables --check rd --k 1 --sample-size 5", "without --ledger"},
		{"lot sequential", "which lots are good"},
		{"lot sequential --producer-quality 0.1", "missing"},
		{"lot sequential --at 2" + points, "no fraction"},
		{"lot sequential --producer-quality 0.1 --producer-risk 0.6 --consumer-quality 0.2 --consumer-risk 0.6", "sequential plan"},
		{"lot sequential --producer-quality 1e-200 --producer-risk 0.1 --consumer-quality 1e-199 --consumer-risk 0.1", "more than"},
		{"lot sequential a b" + points, "one file"},
		{"lot plan --limiting-quality 1", "--limiting-quality 1"},
		{"lot plan --limiting-quality 0", "--limiting-quality 0"},
		{"lot plan --limiting-quality 0.01 --aql 1", "both --aql"},
		{"lot plan --limiting-quality 0.01" + points, "two points"},
		{"lot plan --limiting-quality 0.01 --distribution magic", "--distribution"},
		{"lot plan --limiting-quality 0.01 --distribution hypergeometric", "without the size"},
		{"lot plan --limiting-quality 1e-12", "no sample"},
		{"lot plan --confidence 0.9 --size 100 --aql 1", "without --limiting-quality"},
		{"lot double", "--first-size is missing"},
		{"lot double --first-size 8 --first-accept 0 --second-size 8", "--second-accept is missing"},
		{"lot double --first-size 0 --first-accept 0 --second-size 8 --second-accept 1", "--first-size 0"},
		{"lot double --first-size 8 --first-accept 8 --second-size 8 --second-accept 9", "--first-accept 8 of 8"},
		{"lot double --first-size 8 --first-accept 1 --second-size 8 --second-accept 1", "not above"},
		{"lot double --first-size 8 --first-accept 0 --second-size 8 --second-accept 1 --first-reject 1", "--first-reject 1"},
		{"lot double --first-size 8 --first-accept 0 --second-size 8 --second-accept 1 --first-reject 3", "--first-reject 3"},
		{"lot double --first-size 2 --first-accept 0 --second-size 2 --second-accept 4", "--second-accept 4 of 4"},
		{"lot double --first-size 9000 --first-accept 0 --second-size 9000 --second-accept 1000", "--first-reject 1001"},
		{doubleLine + " --at 2", "no fraction"},
		{doubleLine + " --second-bad 1", "without --first-bad"},
		{doubleLine + " --first-bad 51", "--first-bad 51 of 50 units"},
		{doubleLine + " --first-bad 2 --second-bad 101", "--second-bad 101 of 100 units"},
		{doubleLine + " --first-bad 4 --second-bad 0", "a second sample does not count"},
	} {
		t.Run(c.line, func(t *testing.T) { refused(t, "v\n1\n2\n3\n", strings.Fields(c.line), c.want) })
	}
}

// TestJudgementsOfTruthAndPlans: each can be asked for, and go either way.
func TestJudgementsOfTruthAndPlans(t *testing.T) {
	readings := "t,v\n1,1.02\n1,0.98\n5,5.01\n5,5.03\n9,9.06\n9,9.08\n"
	repeated := "t,v\n1,5.01\n1,5.02\n2,5.02\n2,5.03\n3,5.04\n3,5.05\n"
	kappa := "p,a,v,r\n1,x,pass,pass\n1,y,pass,pass\n2,x,fail,fail\n2,y,fail,fail\n3,x,fail,fail\n3,y,pass,fail\n4,x,pass,pass\n4,y,pass,pass\n"
	lot := "v\n4.9\n5\n5.1\n5.05\n"
	for _, c := range []struct{ text, yes, no string }{
		{repeated, "study bias - --value v --reference 5.02 --judge", "study bias - --value v --reference 5.1 --judge"},
		{repeated, "study bias - --value v --reference 5.02 --tolerance 1 --accept 5", "study bias - --value v --reference 5.02 --tolerance 0.1 --accept 5"},
		{readings, "study linearity - --value v --reference t --tolerance 4 --accept 5", "study linearity - --value v --reference t --tolerance 1 --accept 5"},
		{"t,v\n1,1.02\n1,0.98\n5,5.01\n5,4.98\n", "study linearity - --value v --reference t --judge", "study linearity - --value v --reference t --judge --confidence 0.01"},
		{repeated, "study stability - --value v --time t --tolerance 2 --accept 5", "study stability - --value v --time t --tolerance 0.1 --accept 5"},
		{repeated, "study stability - --value v --time t --judge --confidence 0.999", "study stability - --value v --time t --judge"},
		{kappa, agreementLine + " --accept 0.5", agreementLine + " --accept 0.51"},
		{kappa, agreementLine + " --reference r --accept 0.5", agreementLine + " --reference r --accept 0.51"},
		{lot, "lot variables - --value v --sample-size 4 --k 2 --upper 5.3 --lower 4.7", "lot variables - --value v --sample-size 4 --k 4 --upper 5.3 --lower 4.7"},
		{lot, "lot variables - --value v --sample-size 4 --k 2 --upper 5.3 --sigma 0.1", "lot variables - --value v --sample-size 4 --k 2 --upper 5.3 --sigma 0.2"},
		{"v\n" + strings.Repeat("0\n", 24), sequentialLine, ""},
		{"", doubleLine + " --first-bad 1", doubleLine + " --first-bad 4"},
		{"", doubleLine + " --first-bad 3 --second-bad 0", doubleLine + " --first-bad 2 --second-bad 2"},
		{"", doubleLine + " --first-bad 2 --second-bad 1", doubleLine + " --first-reject 3 --first-bad 3"},
		{"v\npass\nfail\n1\n0\n", "", sequentialLine},
	} {
		if c.yes != "" {
			yes := drive(t, c.text, strings.Fields(c.yes)...)
			require.NoError(t, yes.err, c.yes)
			require.Contains(t, yes.out, "YES: ")
			require.Equal(t, true, answerOf(t, c.text, strings.Fields(c.yes)...)["accepted"])
		}
		if c.no != "" {
			no := drive(t, c.text, strings.Fields(c.no)...)
			require.ErrorIs(t, no.err, ErrNegative, c.no)
			require.Contains(t, no.out, "NO: ")
			require.Equal(t, false, answerOf(t, c.text, strings.Fields(c.no)...)["accepted"])
		}
	}
}

// TestSequentialWalk: a run that is not decided says so, and units after a
// decision do not count.
func TestSequentialWalk(t *testing.T) {
	s := drive(t, "v\n"+strings.Repeat("0\n", 23), strings.Fields(sequentialLine+" --json")...)
	require.ErrorIs(t, s.err, ErrUndecided)
	require.NotErrorIs(t, s.err, ErrNegative)
	require.Contains(t, s.out, `"decision": "continue"`)
	require.Contains(t, s.out, `"accept_from": 24`)
	require.NotContains(t, s.out, "accepted")
	got := answerOf(t, "v\n"+strings.Repeat("0\n", 24)+"1\n1\n1\n", strings.Fields(sequentialLine)...)
	require.Equal(t, true, got["accepted"])
	require.Equal(t, 24.0, got["decided_at"])
	require.Equal(t, 24.0, got["tested"])
	require.Equal(t, 0.0, got["bad"])
	require.Contains(t, drive(t, "v\n"+strings.Repeat("0\n", 24)+"1\n1\n1\n", strings.Fields(sequentialLine)...).out, "3 units after the decision did not count")
	// The boundaries are those of the walk, for every number of bad units.
	for _, b := range got.list(t, "boundaries") {
		bad := int(b.number(t, "bad"))
		if until, ok := b["reject_until"]; ok {
			n := int(until.(float64))
			rejected := "v\n" + strings.Repeat("0\n", n-bad) + strings.Repeat("1\n", bad)
			if bad == 2 {
				require.ErrorIs(t, drive(t, rejected, strings.Fields(sequentialLine)...).err, ErrNegative)
				require.ErrorIs(t, drive(t, "v\n0\n"+rejected[2:], strings.Fields(sequentialLine)...).err, ErrUndecided)
			}
		}
	}
}

// TestDoubleAsksForTheSecondSample: between acceptance and rejection nothing is
// decided, and how many bad units may still come is told.
func TestDoubleAsksForTheSecondSample(t *testing.T) {
	s := drive(t, "", strings.Fields(doubleLine+" --first-bad 2 --json")...)
	require.ErrorIs(t, s.err, ErrUndecided)
	require.Contains(t, s.out, `"decision": "continue"`)
	require.NotContains(t, s.out, `"accepted"`)
	s = drive(t, "", strings.Fields(doubleLine+" --first-bad 2")...)
	require.ErrorIs(t, s.err, ErrUndecided)
	require.Contains(t, s.out, "2 bad of 50 units tested; test the second sample, in which up to 1 bad accept the lot")
}

// TestDoubleQualities are those at which the curve has these values.
func TestDoubleQualities(t *testing.T) {
	got := answerOf(t, "", strings.Fields(doubleLine)...)
	for name, chance := range map[string]float64{"quality_at_95": 0.95, "quality_at_50": 0.5, "quality_at_10": 0.1} {
		at := fmt.Sprint(got.number(t, name))
		require.InDelta(t, chance, answerOf(t, "", strings.Fields(doubleLine+" --at "+at)...).list(t, "points")[0].number(t, "accept_probability"), 1e-9)
	}
}

// TestStabilityByDates: dates count in days, and instants in parts of them.
func TestStabilityByDates(t *testing.T) {
	numbers := answerOf(t, "t,v\n0,5\n0,5.1\n2,5.2\n2,5.3\n5.5,5.4\n", strings.Fields(stabilityLine)...)
	dates := answerOf(t, "t,v\n2026-05-01,5\n2026-05-01,5.1\n2026-05-03,5.2\n2026-05-03,5.3\n2026-05-06T12:00:00Z,5.4\n", strings.Fields(stabilityLine)...)
	require.Equal(t, numbers, dates)
	require.InDelta(t, 5.5*numbers.number(t, "slope"), numbers.number(t, "drift"), 1e-12)
	require.Equal(t, 3.0, numbers["sessions"])
	once := answerOf(t, "t,v\n0,5\n1,5.1\n2,5.3\n", strings.Fields(stabilityLine)...)
	require.NotContains(t, once, "sessions_p")
	// Two sessions: their F is the square of the slope's t (one way for both).
	two := answerOf(t, "t,v\n0,5\n0,5.1\n2,5.2\n2,5.35\n", strings.Fields(stabilityLine)...)
	near(t, two.number(t, "slope_t")*two.number(t, "slope_t"), two.number(t, "sessions_f"), 1e-9, "F")
}

// TestAgreementCounts by hand: x judges part 3 first one way, then the other.
func TestAgreementCounts(t *testing.T) {
	text := "p,a,v,r\n"
	for trial := range 2 {
		for p, class := range []string{"good", "bad", "good", "bad"} {
			x := class
			if p == 2 && trial == 1 {
				x = "bad"
			}
			text += fmt.Sprintf("%d,x,%s,%s\n%d,y,%s,%s\n", p+1, x, class, p+1, class, class)
		}
	}
	got := answerOf(t, text, strings.Fields(agreementLine+" --reference r")...)
	require.Equal(t, 2.0, got["trials"])
	within, against := got.list(t, "within"), got.list(t, "reference")
	require.Equal(t, []any{3.0, 4.0}, []any{within[0]["alike"], within[1]["alike"]})
	require.Equal(t, []any{3.0, 4.0}, []any{against[0]["alike"], against[1]["alike"]})
	require.Equal(t, 0.75, against[0]["share"])
	require.Equal(t, 7.0/8, against[0]["observed"])
	require.Equal(t, 0.75, against[0]["kappa"], "chance is a half: (7/8 - 1/2) / (1/2)")
	require.Equal(t, 1.0, within[1]["kappa"])
	require.Equal(t, 3.0, got["all"].(map[string]any)["alike"])
	require.Equal(t, 0.75, got["least_kappa"])
}

// TestTruthAndPlansOnALedger: bias takes every run, a lot its first ones and the
// limits of the records.
func TestTruthAndPlansOnALedger(t *testing.T) {
	path := line(t)
	got := answerOf(t, "", "study", "bias", "--ledger", path, "--check", "vbus", "--reference", "5")
	require.Equal(t, 6.0, got["n"])
	lot := []string{"lot", "variables", "--ledger", path, "--check", "vbus", "--sample-size", "4", "--k", "1"}
	got = answerOf(t, "", lot...)
	require.InDelta(t, (5.25-5.075)/got.number(t, "sd"), got.number(t, "q_upper"), 1e-9)
	require.NotContains(t, got, "q_lower")
	require.Equal(t, true, got["accepted"])
	require.Equal(t, false, answerOf(t, "", append(lot, "--upper", "5.1")...)["accepted"])
	refused(t, "", append(lot, "--lot", "L2"), "2 values")
	refused(t, "", []string{"lot", "variables", "--ledger", path, "--check", "nothing", "--sample-size", "4", "--k", "1"}, "no value")
}
