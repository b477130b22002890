package record

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func sampleOrder() TestOrder {
	return TestOrder{
		ID: "01890a5d-ac96-774b-bcce-b302099a806a", Bench: Bench{Name: "bench 3", Kind: Twin, Program: "0.1.0"},
		Made: "2026-05-04T06:10:00Z", By: "B. Buyer", Product: "bicycle lamp L1", Candidate: "board house B", Incumbent: "board house A",
		Nests: 1, Days: 2, Seatings: 2, Seed: strings.Repeat("0a", 32),
		Lots: []OrderedLot{
			{Supplier: "board house B", Lot: "2026-19", Serials: []string{"B-1", "B-2"}},
			{Supplier: "board house A", Lot: "7", Serials: []string{"A-1", "A-2"}},
		},
		Gauge: []string{"G-01"},
		Turns: []OrderTurn{
			{"B-2", 1, 1}, {"G-01", 1, 1}, {"A-1", 1, 1}, {"G-01", 1, 1},
			{"G-01", 1, 2}, {"A-2", 1, 2}, {"B-1", 1, 2}, {"G-01", 1, 2},
		},
	}
}

// sampleChain4 seals what came with the fourth version.
func sampleChain4(t testing.TB) [][]byte {
	t.Helper()
	e, err := Seal(nil, sampleOrder(), sampleKey(t))
	require.NoError(t, err)
	return [][]byte{e.Bytes()}
}
