package twin

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

func setting(name string, axes ...string) wiring.Setting {
	s := wiring.Setting{Condition: name}
	for i := 0; i < len(axes); i += 2 {
		s.Axes = append(s.Axes, wiring.AxisChoice{Axis: axes[i], Value: axes[i+1]})
	}
	return s
}

func TestBenchScratch(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	ctx := context.Background()
	start := time.Now()
	r, err := bench.Open(ctx, shippedRig(t), w.Hardware(), bench.Options{})
	require.NoError(t, err)
	t.Log("open", r.Now(), time.Since(start), w.buses[0].transfers)
	require.NoError(t, r.Begin(ctx))
	p, err := r.Probe(ctx)
	require.NoError(t, err)
	unit, _ := w.Truth().Unit()
	t.Log("probe", r.Now(), p.Capacitance.Value.SI, unit.Capacitance, p.Level.Value.SI, p.Present, p.Shorted, time.Since(start), w.buses[0].transfers)
	r.Pass("probe-vbus")
	for _, c := range []string{"probe-cc1", "probe-cc2"} {
		require.NoError(t, r.Enter(ctx, setting(c)))
		for _, ch := range []string{"cc1", "cc2", "vprobe", "rd1", "rd2", "vbus"} {
			x, err := r.Read(ctx, ch, bench.ReadOptions{})
			require.NoError(t, err)
			t.Log(c, ch, x.Value.Quantity, x.Saturated, unit.Rd)
		}
	}
	for _, s := range []wiring.Setting{
		setting("legacy-a", "cell", "3.7 V"), setting("legacy-a", "cell", "3.7 V", "data", "open"),
		setting("c-supply", "cell", "3.7 V"), setting("c-supply", "cell", "3.7 V", "orientation", "flipped", "advertisement", "3.0 A"),
		setting("c-supply-marked", "cell", "3.7 V"), setting("no-termination", "cell", "3.7 V"), setting("stand-in", "cell", "3.7 V"),
		setting("portable", "cell", "3.7 V"), setting("cell-substitute"), setting("cell-substitute", "cell", "4.25 V"), setting("detached", "cell", "4.25 V"),
	} {
		require.NoError(t, r.Enter(ctx, s))
		x, err := r.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4.75), Hold: 100 * time.Millisecond, Within: time.Second})
		require.NoError(t, err)
		t.Log(s, r.Now(), "met", x.Met, x.Since.SI, x.Reading.Value.SI)
		for _, ch := range []string{"cc1", "cc2", "ibus", "light", "vbat", "vforce"} {
			x, err := r.Read(ctx, ch, bench.ReadOptions{})
			if err != nil {
				t.Log(ch, err)
				continue
			}
			t.Log("     ", ch, x.Value.Quantity, x.Saturated)
		}
		state, _ := w.Truth().Supply("csup")
		t.Log(time.Since(start), w.buses[0].transfers, w.Truth().Charger(), state)
	}
	require.NoError(t, r.Close())
}
