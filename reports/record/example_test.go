package record_test

import (
	"bytes"
	"crypto/ed25519"
	"fmt"
	"strings"
	"time"

	"sinkproof/reports/record"
)

// A run emits events, their fold is the record, and the record is sealed
// behind the entry that opened it.
func Example() {
	started := time.Date(2026, 5, 4, 7, 30, 0, 0, time.UTC)
	id, _ := record.NewID(started, strings.NewReader("0123456789"))
	opening := record.Opening{
		ID: id, Serial: "LMP-000017", Product: "lamp", Attempt: 1, Started: record.Instant(started),
		Bench:    record.Bench{Name: "bench 3", Kind: record.Twin, Program: "0.1.0"},
		Files:    []record.File{{Role: record.RoleScenario, Name: "charge path", SHA256: strings.Repeat("0a", 32)}},
		Decision: record.Decision{Rule: record.Simple},
	}
	key, _ := record.GenerateKey(bytes.NewReader(make([]byte, 32)))
	opened, err := record.Seal(nil, opening, key)
	if err != nil {
		fmt.Println(err)
		return
	}

	var fold record.Fold
	for _, e := range []record.Event{
		record.Opened{Opening: opening},
		record.Answered{Check: record.Check{
			Name: "rd-cc1", Title: "Termination at CC1", Answer: record.Passed, AtUS: 812_000,
			Value: &record.Value{Value: 5103, Unit: "Ω", U: 15},
		}},
		record.Closed{DurationUS: 1_000_000, Verdict: record.Pass, Bin: record.BinPass},
	} {
		if err := fold.Apply(e); err != nil {
			fmt.Println(err)
			return
		}
	}
	closed, err := record.Seal(&opened, fold.Run(), key)
	if err != nil {
		fmt.Println(err)
		return
	}

	chain := record.Chain{Keys: []ed25519.PublicKey{record.Public(key)}}
	fmt.Println(chain.Next(opened), chain.Next(closed))
	fmt.Println(chain.Seq, closed.Kind, id)
	// Output:
	// <nil> <nil>
	// 2 run closed 019df1e4-d8c0-7031-b233-343536373839
}
