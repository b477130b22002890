package twin

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkTransfer is one register read that finds nothing new: what a poll
// of the ready bit costs.
func BenchmarkTransfer(b *testing.B) {
	w := newTwin(b, "hand-lamp", 1)
	require.NoError(b, w.Seat("S1"))
	bus := w.Hardware().Buses["i2c-main"]
	pointer, config := []byte{1}, make([]byte, 2)
	b.ReportAllocs()
	for b.Loop() {
		if bus.Tx(0x48, pointer, config) != nil {
			b.Fatal("no answer")
		}
	}
}

// BenchmarkIdleSecond is one second in which nobody does anything: the two
// monitors convert as after power-up.
func BenchmarkIdleSecond(b *testing.B) {
	w := newTwin(b, "hand-lamp", 1)
	require.NoError(b, w.Seat("S1"))
	clock := w.Hardware().Clock
	b.ReportAllocs()
	for b.Loop() {
		if clock.Sleep(context.Background(), time.Second) != nil {
			b.Fatal("no sleep")
		}
	}
}

// BenchmarkAttach takes a unit from isolated to charging from the C supply and
// back: about thirty bouncing contacts, the attach, the question to the data
// lines, the soft start, the release.
func BenchmarkAttach(b *testing.B) {
	w := newTwin(b, "hand-lamp", 1)
	require.NoError(b, w.Seat("S1"))
	path := []string{"k_csup1", "k_csup2", "k_plug", "k_bleed", "k_ccc", "k_cut", "k_dshort", "k_range", "k_cell1", "k_cell2", "sel_cell1"}
	b.ReportAllocs()
	for b.Loop() {
		drive(b, w, 30*time.Millisecond, path...)
		drive(b, w, 700*time.Millisecond, append(path, "s_feed")...)
		if w.Truth().Charger() != "constant current" {
			b.Fatal("not charging: ", w.Truth().Charger())
		}
		drive(b, w, 700*time.Millisecond)
	}
}
