package record

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func lotName() LotName {
	return LotName{Lot: "2026-19", Supplier: "board house A", Product: "bicycle lamp L1"}
}

func sampleDraw() LotDraw {
	tighter := 1
	return LotDraw{
		ID: "01890a5d-ac96-774b-bcce-b302099a805a", Bench: Bench{Name: "bench 3", Kind: Twin, Program: "0.1.0"},
		Made: "2026-05-04T06:10:00Z", By: "A. Engineer", LotName: lotName(),
		Plan: LotPlan{Level: "II", AQL: 1.5, Severity: "normal", CodeLetter: "A", PlanLetter: "H", Accept: 2, TighterAccept: &tighter},
		Seed: strings.Repeat("0a", 32), Serials: []string{"L-1", "L-2", "L-3", "L-4", "L-5"}, Drawn: []string{"L-4", "L-1", "L-5"},
	}
}

// sampleRuns are the runs of the sample's units: one that failed and passed its
// retest, one that the bench could not tell of at first, one that passed.
func sampleRuns() map[string][]LotRun {
	const id = "01890a5d-ac96-774b-bcce-b302099a80"
	return map[string][]LotRun{
		"L-4": {{Seq: 3, Run: id + "61", Verdict: Fail, Failed: []string{"rd-cc1"}}, {Seq: 5, Run: id + "62", Verdict: Pass}},
		"L-1": {{Seq: 7, Run: id + "63", Verdict: None, Reason: "lid open"}, {Seq: 9, Run: id + "64", Verdict: Pass, Suspect: true}, {Seq: 13, Run: id + "65", Verdict: Pass}},
		"L-5": {{Seq: 11, Run: id + "66", Verdict: Pass}},
	}
}

func sampleLotJudgement() LotJudgement {
	d := sampleDraw()
	j := d.Standing(sampleRuns()).Judgement()
	j.Bench, j.Made, j.By, j.Steady = d.Bench, "2026-05-05T06:10:00Z", "Q. Engineer", true
	return j
}

func sampleResumption() SupplierResumption {
	d := sampleDraw()
	return SupplierResumption{Supplier: d.Supplier, Product: d.Product, Bench: d.Bench, Made: "2026-11-04T06:10:00Z", By: "Q. Engineer", Reason: "new stencil, 8D report 14"}
}

// sampleChain3 seals what came with the third version.
func sampleChain3(t testing.TB) [][]byte {
	t.Helper()
	key := sampleKey(t)
	var prev *Entry
	var chain [][]byte
	for _, doc := range []Document{sampleDraw(), sampleLotJudgement(), sampleResumption()} {
		e, err := Seal(prev, doc, key)
		require.NoError(t, err)
		chain = append(chain, e.Bytes())
		prev = &e
	}
	return chain
}
