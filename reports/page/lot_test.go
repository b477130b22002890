package page

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	plans "sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// sampleLot is a lot of 60 with a bad unit that passed its retest, one that the
// bench could not tell of at first, and one that is still in doubt.
func sampleLot(t testing.TB, judged bool) Lot {
	t.Helper()
	d := record.LotDraw{
		ID: "01890a5d-ac96-774b-bcce-b302099a805a", Bench: record.Bench{Name: "bench 3", Kind: record.Hardware, Program: "0.1.0"},
		Made: "2026-05-04T06:10:00Z", By: "A. <Engineer>", Seed: strings.Repeat("0a", 32),
		LotName: record.LotName{Lot: "2026-19", Supplier: "board house A", Product: "bicycle lamp L1"},
		Plan:    record.LotPlan{Level: "II", AQL: 4, Severity: "normal", CodeLetter: "E", PlanLetter: "E", Accept: 1},
	}
	for i := range 60 {
		d.Serials = append(d.Serials, fmt.Sprintf("HL-%04d", i+1))
	}
	var err error
	d.Drawn, err = plans.Sample(d.Key(record.Genesis), d.Serials, 13)
	require.NoError(t, err)
	runs := map[string][]record.LotRun{}
	for i, serial := range d.Drawn {
		run := record.LotRun{Seq: int64(10 + 10*i), Run: fmt.Sprintf("01890a5d-ac96-774b-bcce-b302099a8%03d", i), Verdict: record.Pass}
		later := run
		later.Seq, later.Run = run.Seq+2, strings.Replace(run.Run, "b302099a8", "b302099a9", 1)
		switch i {
		case 2:
			run.Verdict, run.Failed = record.Fail, []string{"rd-cc1", "<legacy>"}
			runs[serial] = []record.LotRun{run, later}
			continue
		case 4:
			run.Verdict, run.Reason = record.None, "lid open"
			runs[serial] = []record.LotRun{run, later}
			continue
		case 12:
			if !judged {
				run.Suspect = true
			}
		}
		if i != 9 || judged {
			runs[serial] = []record.LotRun{run}
		}
	}
	l := Lot{Standing: d.Standing(runs), Seq: 7, Hash: strings.Repeat("ab", 32), Before: []LotBefore{{LotDraw: d}}}
	if judged {
		j := l.Standing.Judgement()
		j.Made, j.By, j.Steady = "2026-05-05T06:10:00Z", "Q. Engineer", true
		l.Judged, l.Before[0].Judged = &j, &j
		l.Next = plans.Switching{Score: 2}
	}
	return l
}

func TestAJudgedLotSaysWhy(t *testing.T) {
	v := NewLot(sampleLot(t, true))
	require.Equal(t, Good, v.Tone)
	require.Contains(t, v.Verdict, "Accepted: 1 of 13 tested units bad, 1 may be: HL-")
	html, err := v.HTML()
	require.NoError(t, err)
	for _, want := range []string{
		"A. &lt;Engineer&gt;", "rd-cc1, &lt;legacy&gt;", "fail (counts); then pass", "no verdict (lid open); then pass (counts)", "score is 2 of the 30", "called steady", "<svg",
	} {
		require.Contains(t, string(html), want)
	}
	require.NotContains(t, string(html), "<script")
	require.NotContains(t, string(html), "IN DOUBT")
	doubted := sampleLot(t, true)
	doubted.Doubted = []string{"HL-0008"}
	require.Contains(t, NewLot(doubted).Lead, "1 of the answers fall under that suspicion (HL-0008)")
	pdf, err := v.PDF()
	require.NoError(t, err)
	again, err := NewLot(sampleLot(t, true)).PDF()
	require.NoError(t, err)
	require.Equal(t, pdf, again, "same input, same bytes")
}

func TestAnOpenLotSaysWhatItTakes(t *testing.T) {
	l := sampleLot(t, false)
	v := NewLot(l)
	require.Equal(t, Open, v.Tone)
	require.Contains(t, v.Verdict, "Open: 1 of 11 tested units bad")
	require.Contains(t, v.Sections[1].Lead, "1 were not tested. Of 1 the bench could not tell")
	html, err := v.HTML()
	require.NoError(t, err)
	require.Contains(t, string(html), "pass, bench in doubt")
	require.Contains(t, v.Sections[2].Lead, "This lot is open")
	l.Standing.Draw.Bench.Kind = record.Twin
	require.Contains(t, NewLot(l).Lead, "Simulated bench")
}

func TestLotVerdicts(t *testing.T) {
	l := sampleLot(t, true)
	for outcome, want := range map[record.LotOutcome]Tone{record.Accepted: Good, record.Rejected: Bad, record.Abandoned: Open} {
		l.Judged.Outcome = outcome
		_, tone := lotVerdict(l)
		require.Equal(t, want, tone, outcome)
	}
	l.Judged = nil
	text, tone := lotVerdict(l)
	require.Equal(t, Open, tone)
	require.Contains(t, text, "To be judged: ")
	require.Contains(t, NextText(plans.Switching{Severity: plans.Discontinued}), "until the supplier has acted")
	require.Equal(t, "a, b, c and 2 more", FailedText(record.LotUnit{Failed: []string{"a", "b", "c", "d", "e"}}))
	require.Equal(t, "The next lot is on reduced inspection.", NextText(plans.Switching{Severity: plans.Reduced}))
}
