package linux

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"pgregory.net/rapid"
)

// TestALineDoesWhatItIsToldInAnyOrder holds a line against a model of a few
// words: it is nothing, an input or an output; only In and Out change that, only
// Close takes it away, an output has the level of the last Out and no other in
// between.
func TestALineDoesWhatItIsToldInAnyOrder(t *testing.T) {
	b := newBoard(t)
	k := b.chip(t, 0, "relays", "lid")
	c := b.computer(t)
	l, err := c.FindLine("lid")
	require.NoError(t, err)
	rapid.Check(t, func(rt *rapid.T) {
		require.NoError(rt, l.Close())
		w := k.wires[0]
		*w = wire{name: "lid", refuse: map[uint64]error{}, queue: -1}
		function, level := "", gpio.Low
		rt.Repeat(map[string]func(*rapid.T){
			"out": func(rt *rapid.T) {
				level = gpio.Level(rapid.Bool().Draw(rt, "level"))
				before := len(w.log)
				require.NoError(rt, l.Out(level))
				require.Len(rt, w.log[before:], 1, "one request of the kernel, so no level in between")
				require.Equal(rt, function == "OUT", strings.HasPrefix(w.log[before], "set"))
				function = "OUT"
			},
			"in": func(rt *rapid.T) {
				pull := gpio.Pull(rapid.IntRange(0, 3).Draw(rt, "pull"))
				require.NoError(rt, l.In(pull, gpio.Edge(rapid.IntRange(0, 3).Draw(rt, "edge"))))
				require.Equal(rt, pull, l.Pull())
				function = "IN"
			},
			"read": func(rt *rapid.T) {
				got, err := l.ReadLevel()
				if function == "" {
					require.ErrorIs(rt, err, ErrNotRequested)
					return
				}
				require.NoError(rt, err)
				require.Equal(rt, gpio.Level(w.level), got)
			},
			"halt": func(rt *rapid.T) { require.NoError(rt, l.Halt()) },
			"wait": func(rt *rapid.T) { require.False(rt, l.WaitForEdge(0), "there was no edge") },
			"close": func(rt *rapid.T) {
				require.NoError(rt, l.Close())
				w.flags, function = 0, ""
			},
			"": func(rt *rapid.T) {
				require.Equal(rt, function, l.Function())
				if function == "OUT" {
					require.Equal(rt, bool(level), w.level)
					require.NotZero(rt, w.flags&flagOutput)
				}
			},
		})
	})
}
