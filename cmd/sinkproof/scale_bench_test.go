package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// peak is the most memory that the process has held, in MiB (proc(5), VmHWM).
func peak(t testing.TB) float64 {
	t.Helper()
	data, err := os.ReadFile("/proc/self/status")
	require.NoError(t, err)
	_, text, _ := strings.Cut(string(data), "VmHWM:")
	var kib float64
	_, err = fmt.Sscanf(strings.TrimSpace(text), "%f", &kib)
	require.NoError(t, err)
	return kib / 1024
}

// used is the processor time that the program has had, which a busy computer does not
// draw out as it does the time on the wall (getrusage(2)).
func used(t testing.TB) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// typed runs a command line as a person would type it, and demands its exit code.
func typed(t testing.TB, code int, words ...string) {
	t.Helper()
	var complaint bytes.Buffer
	require.Equal(t, code, run(context.Background(), words, strings.NewReader(""), io.Discard, &complaint), "%v: %s", words, &complaint)
}

// BenchmarkScale types what a quality engineer asks, of signed ledgers that the
// program itself has filled. Promised at a million runs (go test -tags study) on two
// cores: yield, Pareto and a chart of one check over a month in a second, capability
// of one check over all in three, the history of a serial in 20 ms, in 300 MiB.
func BenchmarkScale(b *testing.B) {
	for _, n := range scales() {
		path := filepath.Join(b.TempDir(), fmt.Sprintf("%d.db", n))
		typed(b, 0, "ledger", "simulate", "--ledger", path, "--runs", fmt.Sprint(n))
		month := []string{"--since", "2026-05-01", "--until", "2026-06-01"}
		ask := func(name string, code int, words ...string) {
			words = append(words, "--ledger", path, "--json")
			b.Run(fmt.Sprintf("%s/%d", name, n), func(b *testing.B) {
				debug.FreeOSMemory()
				_ = os.WriteFile("/proc/self/clear_refs", []byte("5"), 0) // forget earlier peaks; without the right they stand
				before := used(b)
				for b.Loop() {
					typed(b, code, words...)
				}
				b.ReportMetric(float64(used(b)-before)/float64(time.Millisecond)/float64(b.N), "cpu-ms/op")
				b.ReportMetric(peak(b), "MiB-peak")
			})
		}
		ask("yield and pareto of all", 0, "ledger", "yield")
		ask("yield and pareto of a month", 0, append([]string{"ledger", "yield"}, month...)...)
		ask("chart of a month by day", 0, append([]string{"study", "chart", "--check", "rd-cc1", "--kind", "xbar-s", "--subgroup", "day"}, month...)...)
		ask("chart of a month one by one", 0, append([]string{"study", "chart", "--check", "rd-cc1", "--kind", "individuals"}, month...)...)
		ask("capability over all", 0, "study", "capability", "--check", "rd-cc1")
		ask("history of a serial", 0, "unit", fmt.Sprintf("SIM-%08d", n/3))
		// Refused, since nothing in such a ledger is a gauge study; all is read for it.
		ask("qualify", exitRefused, "qualify", "--product", "hand-lamp", "--candidate", "Tarnholm Circuits", "--incumbent", "Fenmark Assembly", "--check", "rd-cc1")
		require.NoError(b, os.RemoveAll(filepath.Dir(path)))
	}
}
