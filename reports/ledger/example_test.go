package ledger_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// A run is opened before a coil moves, closed with its record, and read back
// by serial; whoever has the public key can verify the ledger.
func Example() {
	dir, err := os.MkdirTemp("", "ledger")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	ctx := context.Background()
	key, _ := record.GenerateKey(bytes.NewReader(make([]byte, 32)))
	l, err := ledger.Open(ctx, filepath.Join(dir, "bench.ledger"), ledger.Opts{Key: key})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer l.Close()

	started := time.Date(2026, 5, 4, 7, 30, 0, 0, time.UTC)
	id, _ := record.NewID(started, strings.NewReader("0123456789"))
	opening, _, err := l.OpenRun(ctx, record.Opening{
		ID: id, Serial: "LMP-000017", Product: "lamp", Started: record.Instant(started),
		Bench:    record.Bench{Name: "bench 3", Kind: record.Hardware, Program: "0.1.0"},
		Files:    []record.File{{Role: record.RoleScenario, Name: "charge path", SHA256: strings.Repeat("0a", 32)}},
		Decision: record.Decision{Rule: record.Simple},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	_, err = l.CloseRun(ctx, record.Run{
		Schema: record.RunSchema, Opening: opening, DurationUS: 900_000,
		Verdict: record.None, Reason: "the nest was not empty", Bin: record.BinRetest,
	})
	if err != nil {
		fmt.Println(err)
		return
	}

	rows, _ := l.History(ctx, "LMP-000017")
	for _, row := range rows {
		fmt.Println(row.Attempt, row.Verdict, row.Bin, row.Reason)
	}
	report, err := l.Verify(ctx, ledger.VerifyOpts{Keys: []ed25519.PublicKey{record.Public(key)}})
	fmt.Println(report.Entries, err)
	fmt.Println(report.Tail())
	// Output:
	// 1 none retest the nest was not empty
	// 2 <nil>
	// Entries cut off the end cannot be seen without --head: give the hash from the latest report.
}
