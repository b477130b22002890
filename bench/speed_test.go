package bench_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
)

func BenchmarkReadVbus(b *testing.B) {
	r := newTwin(b, 1, bench.Options{})
	for b.Loop() {
		if _, err := r.Read(context.Background(), "vbus", bench.ReadOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEnterAndWait(b *testing.B) {
	r := newTwin(b, 1, bench.Options{})
	r.seat(b, "")
	r.Pass(bench.ProbeVbus)
	ctx := context.Background()
	for b.Loop() {
		if err := r.Enter(ctx, to("legacy-a")); err != nil {
			b.Fatal(err)
		}
		got, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: volts(4.75),
			Hold: 100 * time.Millisecond, Within: time.Second})
		if err != nil || !got.Met {
			b.Fatal(err, got.Met)
		}
		if err := r.Enter(ctx, to("isolated")); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkProbe(b *testing.B) {
	r := newTwin(b, 1, bench.Options{})
	r.seat(b, "")
	for b.Loop() {
		if _, err := r.Probe(context.Background()); err != nil {
			b.Fatal(err)
		}
	}
}

// The loop that samples allocates nothing: ten times the samples cost no more
// than the longer slices that keep them.
func TestSamplingAllocatesNothing(t *testing.T) {
	r := newTwin(t, 1, bench.Options{})
	capture := func(d time.Duration) float64 {
		return testing.AllocsPerRun(3, func() {
			_, err := r.Capture(context.Background(), bench.Capture{Channel: "vbus", For: d})
			require.NoError(t, err)
		})
	}
	capture(2 * time.Second) // the rig's buffer has grown
	short, long := capture(200*time.Millisecond), capture(2*time.Second)
	t.Log(short, long)
	require.Less(t, long-short, 20.0)
}
