package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The queue against the simplest thing that could work: look through all
// slots for the earliest, the lowest number first.
func TestQueueAgainstALinearSearch(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		q := &queue{}
		slots := rapid.IntRange(1, 12).Draw(r, "slots")
		var timers []timer
		plain := make([]time.Duration, slots)
		for i := range slots {
			timers = append(timers, q.add(nobody{}))
			plain[i] = never
		}
		for range rapid.IntRange(0, 60).Draw(r, "deeds") {
			i := rapid.IntRange(0, slots-1).Draw(r, "slot")
			switch rapid.IntRange(0, 2).Draw(r, "deed") {
			case 0:
				plain[i] = time.Duration(rapid.IntRange(0, 9).Draw(r, "at"))
				timers[i].Set(plain[i])
			case 1:
				plain[i] = never
				timers[i].Stop()
			case 2:
				first := earliest(plain)
				if plain[first] == never {
					require.Equal(r, never, q.next())
					continue
				}
				require.Equal(r, plain[first], q.next())
				q.remove(q.heap[0])
				require.False(r, timers[first].set())
				plain[first] = never
			}
		}
		require.Equal(r, plain[earliest(plain)], q.next())
	})
}

func earliest(at []time.Duration) int {
	first := 0
	for i, x := range at {
		if x < at[first] {
			first = i
		}
	}
	return first
}

func TestQueueSetsWithoutAllocating(t *testing.T) {
	q := &queue{}
	var timers []timer
	for range 50 {
		timers = append(timers, q.add(nobody{}))
	}
	for i, x := range timers {
		x.Set(time.Duration(i))
	}
	require.Zero(t, testing.AllocsPerRun(100, func() {
		timers[7].Set(99)
		timers[8].Stop()
		timers[8].Set(3)
	}))
}
