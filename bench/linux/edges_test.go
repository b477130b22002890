package linux

import (
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/gpio"
)

// edgy is a line that waits for rising edges.
func edgy(t *testing.T) (*Line, *wire) {
	t.Helper()
	l, w := onlyLine(t)
	require.NoError(t, l.In(gpio.PullNoChange, gpio.RisingEdge))
	return l, w
}

// running waits until n waits of a line run, and polls for no time of its own.
func runningWaits(l *Line, n int) {
	for {
		l.mu.Lock()
		now := l.waiting
		l.mu.Unlock()
		if now == n {
			return
		}
		runtime.Gosched()
	}
}

// waitFor starts a wait and gives what it comes to.
func waitFor(l *Line, timeout time.Duration) <-chan bool {
	got := make(chan bool, 1)
	go func() { got <- l.WaitForEdge(timeout) }()
	return got
}

func TestAWaitOfNothingTakesWhatCame(t *testing.T) {
	l, w := edgy(t)
	require.False(t, l.WaitForEdge(0))
	w.beat(t, 2)
	require.True(t, l.WaitForEdge(0))
	require.True(t, l.WaitForEdge(0))
	require.False(t, l.WaitForEdge(0), "each edge is taken once")
}

func TestAWaitEndsWithItsTime(t *testing.T) {
	l, _ := edgy(t)
	require.False(t, l.WaitForEdge(time.Millisecond))
}

// TestAWaitForEverEndsWithTheEdge: the interface says "Specify -1 to effectively
// disable timeout" (periph conn v3.7.3, gpio/gpio.go, PinIn).
func TestAWaitForEverEndsWithTheEdge(t *testing.T) {
	l, w := edgy(t)
	got := waitFor(l, -1)
	runningWaits(l, 1)
	w.beat(t, 1)
	require.True(t, <-got)
}

func TestAWaitOnALineWithoutEdgesEnds(t *testing.T) {
	l, _ := onlyLine(t)
	require.NoError(t, l.In(gpio.PullNoChange, gpio.NoEdge))
	require.False(t, l.WaitForEdge(-1))
	require.NoError(t, l.Out(gpio.High))
	require.False(t, l.WaitForEdge(-1))
}

func TestWhatChangesTheLineEndsItsWaits(t *testing.T) {
	for name, change := range map[string]func(*Line) error{
		"In":    func(l *Line) error { return l.In(gpio.PullNoChange, gpio.FallingEdge) },
		"Out":   func(l *Line) error { return l.Out(gpio.Low) },
		"Halt":  (*Line).Halt,
		"Close": (*Line).Close,
	} {
		t.Run(name, func(t *testing.T) {
			l, _ := edgy(t)
			one, two := waitFor(l, -1), waitFor(l, time.Hour)
			runningWaits(l, 2)
			require.NoError(t, change(l))
			if name == "Close" {
				l.mu.Lock()
				left := l.waiting
				l.mu.Unlock()
				require.Zero(t, left, "a wait still looks at what is closed")
			}
			require.False(t, <-one)
			require.False(t, <-two)
			runningWaits(l, 0)
		})
	}
}

// TestAHaltBeforeTheWaitIsNotLost until the next In.
func TestAHaltBeforeTheWaitIsNotLost(t *testing.T) {
	l, w := edgy(t)
	require.NoError(t, l.Halt())
	require.NoError(t, l.Halt())
	w.beat(t, 1)
	require.False(t, l.WaitForEdge(-1))
	require.Equal(t, "IN", l.Function(), "the line is still requested")
	require.NoError(t, l.In(gpio.PullNoChange, gpio.RisingEdge))
	w.beat(t, 1)
	require.True(t, l.WaitForEdge(-1))
}

func TestAHaltedOutputKeepsItsLevel(t *testing.T) {
	l, w := onlyLine(t)
	require.NoError(t, l.Out(gpio.High))
	require.NoError(t, l.Halt())
	require.Equal(t, gpio.High, l.Read())
	require.Equal(t, []string{"request 0x8 at true", "get"}, w.log)
}

func TestEdgesFromBeforeAreForgottenByIn(t *testing.T) {
	l, w := edgy(t)
	w.beat(t, 16)
	require.NoError(t, l.In(gpio.PullNoChange, gpio.BothEdges))
	require.False(t, l.WaitForEdge(0))
	w.beat(t, 3)
	require.NoError(t, l.Out(gpio.High))
	require.NoError(t, l.In(gpio.PullNoChange, gpio.BothEdges))
	require.False(t, l.WaitForEdge(0))
}

func TestAWaitForEverEndsWhenTheChipIsGone(t *testing.T) {
	t.Run("told by a hang-up", func(t *testing.T) {
		l, w := edgy(t)
		got := waitFor(l, -1)
		runningWaits(l, 1)
		require.NoError(t, unix.Close(w.queue))
		require.False(t, <-got)
	})
	t.Run("told to those who ask", func(t *testing.T) {
		l, _ := edgy(t)
		b := l.computer.kernel.(*board)
		b.deaf = true
		require.False(t, l.WaitForEdge(-1))
		require.Equal(t, 2, b.polls)
	})
}

func TestAWaitMayRunAgainAfterItWasEnded(t *testing.T) {
	l, w := edgy(t)
	for range 3 {
		got := waitFor(l, -1)
		runningWaits(l, 1)
		require.NoError(t, l.Halt())
		require.False(t, <-got)
		require.NoError(t, l.In(gpio.PullNoChange, gpio.RisingEdge))
		require.False(t, l.WaitForEdge(0), "no wake-up is left over")
		got = waitFor(l, -1)
		w.beat(t, 1)
		require.True(t, <-got)
	}
}
