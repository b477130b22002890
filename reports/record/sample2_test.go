package record

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// sampleChain2 seals what came with the second version: a golden unit and its
// answers, a record on an unproven bench, the suspicion that falls on it and
// its withdrawal, a clock that was set.
func sampleChain2(t testing.TB) [][]byte {
	t.Helper()
	key := sampleKey(t)
	good, bad := judged(nil), judged(func(r *Run) { r.Checks[0].Value.Value = 6000 })
	unproven := sampleRun()
	unproven.Bench.Unproven = "the golden board is with the supplier"
	unproven.Schema = RunSchema2
	second := goldenRecord(nil).Opening
	second.ID, second.Attempt = sampleInterruption().ID, 3
	suspicion, err := bad.Suspect(3, []Suspect{{5, unproven.ID, unproven.Serial}})
	require.NoError(t, err)
	var prev *Entry
	var chain [][]byte
	for _, doc := range []Document{
		sampleGolden(), GoldenOpening{good.Run.Opening}, good, unproven.Opening, unproven, GoldenOpening{bad.Run.Opening}, bad, suspicion,
		sampleWithdrawal(), GoldenOpening{second}, GoldenInterruption{}, sampleClock(), sampleRetirement(), sampleCalibration(),
	} {
		if _, ok := doc.(GoldenInterruption); ok {
			doc = GoldenInterruption{Interruption{ID: second.ID, Serial: second.Serial, Opened: prev.Hash, Reason: "power went away"}}
		}
		e, err := Seal(prev, doc, key)
		require.NoError(t, err)
		chain = append(chain, e.Bytes())
		prev = &e
	}
	return chain
}
