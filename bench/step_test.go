package bench

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"pgregory.net/rapid"
)

// ticking is a clock that notes how often somebody sleeps on it.
type ticking struct {
	now    time.Duration
	sleeps int
}

func (c *ticking) Now() time.Duration { return c.now }

func (c *ticking) Sleep(_ context.Context, d time.Duration) error {
	c.now += d
	c.sleeps++
	return nil
}

// pulsing is a line that notes when it moved.
type pulsing struct {
	gpio.PinIO
	clock *ticking
	edges []time.Duration
}

func (p *pulsing) Out(gpio.Level) error {
	p.edges = append(p.edges, p.clock.now)
	return nil
}

// beating is a guard whose heart beats for so many nests.
func beating(t require.TestingT, nests int) (*guard, *ticking, *pulsing) {
	c := &ticking{}
	p := &pulsing{clock: c}
	h := &heart{line: newLine("heartbeat", p, false), gap: 30 * time.Millisecond, period: 10 * time.Millisecond}
	g := &guard{clock: c, heart: h, notice: func(string, error) {}, drop: func() {}}
	require.NoError(t, g.start())
	h.nests = nests
	return g, c, p
}

// Whatever somebody waits for, two edges are never farther apart than a period,
// and a lone nest that waits for less than a slice mostly sleeps once.
func TestWaitsKeepTheHeartbeat(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		nests := rapid.IntRange(1, 2).Draw(rt, "nests")
		g, c, p := beating(rt, nests)
		for range 50 {
			d := time.Duration(rapid.IntRange(0, 25_000).Draw(rt, "microseconds")) * time.Microsecond
			from := c.now
			require.NoError(rt, g.Sleep(t.Context(), d))
			require.Equal(rt, d, c.now-from)
		}
		for i := 1; i < len(p.edges); i++ {
			gap := p.edges[i] - p.edges[i-1]
			require.LessOrEqual(rt, gap, g.heart.period)
			if nests > 1 {
				require.Equal(rt, g.heart.period, gap, "no nest gives an edge that another one will")
			}
		}
	})
}

func TestAWaitOfAConversionIsOneSleep(t *testing.T) {
	g, c, p := beating(t, 1)
	for range 100 {
		require.NoError(t, g.Sleep(t.Context(), 8*time.Millisecond))
	}
	require.Equal(t, 100, c.sleeps)
	require.Len(t, p.edges, 100)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, g.Sleep(ctx, 0), context.Canceled, "no sleep has seen to it")
}
