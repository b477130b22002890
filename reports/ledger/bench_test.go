package ledger

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// sizedRun is a run whose record has about the size of a full scenario's.
func sizedRun(o record.Opening, size int) record.Run {
	r := runOf(o, record.Pass)
	r.Notes = []record.Note{{Kind: "padding", Text: strings.Repeat("x", size)}}
	return r
}

// One commit: what it costs against the two things that it is made of, in the
// same run: the same commit without syncing, and a plain write with a sync.
func BenchmarkCommit(b *testing.B) {
	const size = 200_000
	for _, c := range []struct{ name, synchronous string }{{"full", "full"}, {"without sync", "off"}} {
		b.Run(c.name, func(b *testing.B) {
			l := reopen(b, filepath.Join(b.TempDir(), "bench.ledger"))
			_, err := l.w.Exec("pragma synchronous = " + c.synchronous)
			require.NoError(b, err)
			o, err := record.EncodeRun(sizedRun(numbered(1), size))
			require.NoError(b, err)
			b.SetBytes(int64(len(o)))
			var prev *record.Entry
			for n := 0; b.Loop(); n++ {
				b.StopTimer()
				doc := sizedRun(numbered(n), size)
				e, err := record.Seal(prev, doc, benchKey())
				require.NoError(b, err)
				b.StartTimer()
				require.NoError(b, l.commit(context.Background(), []record.Entry{e}, []record.Document{doc}))
				prev = &e
			}
		})
	}
	b.Run("plain write and sync", func(b *testing.B) {
		f, err := os.Create(filepath.Join(b.TempDir(), "plain"))
		require.NoError(b, err)
		data := make([]byte, size)
		b.SetBytes(size)
		for b.Loop() {
			_, err := f.Write(data)
			require.NoError(b, err)
			require.NoError(b, f.Sync())
		}
		require.NoError(b, f.Close())
	})
}

func numbered(n int) record.Opening {
	o := opening(n, fmt.Sprintf("LMP-%d", n))
	o.Attempt = 1
	return o
}

// What a demo of 24 units asks of the ledger: 24 runs, 48 entries.
func BenchmarkTwentyFourRuns(b *testing.B) {
	for b.Loop() {
		l := reopen(b, filepath.Join(b.TempDir(), "bench.ledger"))
		for n := range 24 {
			o, _, err := l.OpenRun(context.Background(), opening(n, fmt.Sprintf("LMP-%d", n)))
			require.NoError(b, err)
			_, err = l.CloseRun(context.Background(), sizedRun(o, 200_000))
			require.NoError(b, err)
		}
		require.NoError(b, l.Close())
	}
}

func BenchmarkVerify(b *testing.B) {
	path := filled(b)
	for b.Loop() {
		verify(b, path, VerifyOpts{})
	}
}

// A thousand simulated records, as they come in by the many.
func BenchmarkSimulate(b *testing.B) {
	var runs []record.Run
	for n := range 1000 {
		runs = append(runs, tiny(n))
	}
	for b.Loop() {
		l := reopen(b, filepath.Join(b.TempDir(), "many.ledger"))
		require.NoError(b, l.Simulate(context.Background(), batchesOf(runs), func(int) {}))
		require.NoError(b, l.Close())
	}
}

// The columns of a thousand records, made anew from the entries.
func BenchmarkColumnsAnew(b *testing.B) {
	path := many(b, 1000)
	for b.Loop() {
		require.NoError(b, os.Remove(columnsBeside(path)))
		v, err := OpenValues(context.Background(), path, nil)
		require.NoError(b, err)
		require.NoError(b, v.Close())
	}
}
