//go:build guest

package linux

import (
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/gpio"
)

// TestGuestAFirstHighIsNeverLow: periph makes the line an output first, which is
// Low, and sets it then (host v3.8.5, gpioioctl/gpio.go, Out): an active-low
// relay clicks. The latch of the chip is high before, so that the chip itself
// adds no Low.
func TestGuestAFirstHighIsNeverLow(t *testing.T) {
	b := ours(t, Options{})
	forgetHistory(t, b)
	require.NoError(t, theirLine(t, 3).Out(gpio.High))
	did := historyOf(t, b, 3)
	require.Contains(t, did, outgoing, "it is driven low in between: %v", did)
	require.Equal(t, outgoing|high, did[len(did)-1])

	l := ourLine(t, guestComputer(t, Options{}), 2)
	require.NoError(t, l.Out(gpio.High))
	did = historyOf(t, b, 2)
	require.NotEmpty(t, did)
	for _, d := range did {
		require.Equal(t, outgoing|high, d, "%v", did)
	}

	require.NoError(t, l.In(gpio.PullNoChange, gpio.NoEdge))
	forgetHistory(t, b)
	require.NoError(t, l.Out(gpio.High))
	require.NotContains(t, historyOf(t, b, 2), outgoing, "also from an input")
	require.NoError(t, l.Out(gpio.Low))
	did = historyOf(t, b, 2)
	require.Equal(t, outgoing, did[len(did)-1])

	require.NoError(t, l.Out(gpio.High))
	forgetHistory(t, b)
	require.NoError(t, l.Close())
	require.Empty(t, historyOf(t, b, 2), "this chip leaves an output driven when it is released")
}

// TestGuestReadingAnOutputLeavesIt: periph makes it an input with a pull-up
// (gpioioctl/gpio.go, Read).
func TestGuestReadingAnOutputLeavesIt(t *testing.T) {
	b := ours(t, Options{})
	their := theirLine(t, 5)
	require.NoError(t, their.Out(gpio.Low))
	forgetHistory(t, b)
	their.Read()
	did := historyOf(t, b, 5)
	require.NotEmpty(t, did, "nothing was done to the line")
	require.Zero(t, did[len(did)-1]&outgoing, "it is no output any more: %v", did)

	l := ourLine(t, guestComputer(t, Options{}), 4)
	for _, level := range []gpio.Level{gpio.Low, gpio.High, gpio.Low} {
		require.NoError(t, l.Out(level))
		forgetHistory(t, b)
		got, err := l.ReadLevel()
		require.NoError(t, err)
		require.Equal(t, level, got)
		require.Equal(t, "OUT", l.Function())
		require.Empty(t, historyOf(t, b, 4), "reading did something to the line")
	}
}

// joined sets line 0 low and gives it with line 1, which follows it.
func joined(t *testing.T, c *Computer) (out, in *Line) {
	t.Helper()
	out, in = ourLine(t, c, 0), ourLine(t, c, 1)
	require.NoError(t, out.Out(gpio.Low))
	return out, in
}

func TestGuestAnInputFollows(t *testing.T) {
	out, in := joined(t, guestComputer(t, Options{}))
	for _, pull := range []gpio.Pull{gpio.PullNoChange, gpio.Float} {
		require.NoError(t, in.In(pull, gpio.NoEdge), "this chip has no pulls")
		for _, level := range []gpio.Level{gpio.High, gpio.Low} {
			require.NoError(t, out.Out(level))
			require.Equal(t, level, in.Read())
		}
	}
}

// settle takes the edges that the kernel's polling finds when it starts.
func settle(in gpio.PinIn) {
	for in.WaitForEdge(2 * while) {
	}
}

// edgeWithin tells what a wait comes to, or that it still waits after d.
func edgeWithin(got <-chan bool, d time.Duration) (edge, ended bool) {
	select {
	case e := <-got:
		return e, true
	case <-time.After(d):
		return false, false
	}
}

// TestGuestAWaitForEverWaits: with periph -1 returns at once and 0 waits for ever
// (gpioioctl/gpio.go, WaitForEdge), the opposite of the interface.
func TestGuestAWaitForEverWaits(t *testing.T) {
	c := guestComputer(t, Options{})
	out, in := joined(t, c)
	their := theirLine(t, 1)
	require.NoError(t, their.In(gpio.PullNoChange, gpio.BothEdges))
	settle(their)
	require.False(t, their.WaitForEdge(-1), "it did not wait")
	got := make(chan bool, 1)
	go func() { got <- their.WaitForEdge(0) }()
	_, ended := edgeWithin(got, while)
	require.False(t, ended, "a wait of nothing ended")
	require.NoError(t, their.Halt())
	require.False(t, <-got)
	their.Close()

	require.NoError(t, in.In(gpio.PullNoChange, gpio.BothEdges))
	settle(in)
	began := time.Now()
	require.False(t, in.WaitForEdge(0))
	require.Less(t, time.Since(began), while)
	go func() { got <- in.WaitForEdge(-1) }()
	_, ended = edgeWithin(got, while)
	require.False(t, ended, "a wait for ever ended")
	require.NoError(t, out.Out(gpio.High))
	edge, ended := edgeWithin(got, soon)
	require.True(t, ended && edge, "the edge was not seen")
}

// TestGuestOldEdgesAreForgotten by In: periph leaves them in the kernel's queue
// (gpioioctl/gpio.go, In). Nothing but the queue tells that the kernel has looked
// at the lines, and periph does not show it: hence the tries.
func TestGuestOldEdgesAreForgotten(t *testing.T) {
	out, in := joined(t, guestComputer(t, Options{}))
	their := theirLine(t, 1)
	require.NoError(t, their.In(gpio.PullNoChange, gpio.BothEdges))
	settle(their)
	require.Eventually(t, func() bool {
		require.NoError(t, out.Out(!out.Read()))
		time.Sleep(while)
		require.NoError(t, their.In(gpio.PullNoChange, gpio.BothEdges))
		return their.WaitForEdge(time.Millisecond)
	}, soon, time.Millisecond, "old edges are gone")
	their.Close()

	require.NoError(t, in.In(gpio.PullNoChange, gpio.BothEdges))
	settle(in)
	require.NoError(t, out.Out(!out.Read()))
	queue := []unix.PollFd{{Fd: int32(in.fd), Events: unix.POLLIN}}
	n, err := unix.Poll(queue, int(soon.Milliseconds()))
	require.NoError(t, err)
	require.Equal(t, 1, n, "no edge was queued")
	require.NoError(t, in.In(gpio.PullNoChange, gpio.BothEdges))
	require.False(t, in.WaitForEdge(0))
}

// TestGuestAHaltIsNotLost: with periph the wait that comes after it sets a new
// deadline (gpioioctl/gpio.go, Halt and WaitForEdge).
func TestGuestAHaltIsNotLost(t *testing.T) {
	_, in := joined(t, guestComputer(t, Options{}))
	their := theirLine(t, 1)
	require.NoError(t, their.In(gpio.PullNoChange, gpio.BothEdges))
	settle(their)
	require.NoError(t, their.Halt())
	got := make(chan bool, 1)
	go func() { got <- their.WaitForEdge(0) }() // its way to say for ever
	_, ended := edgeWithin(got, while)
	require.False(t, ended, "the halt was kept")
	require.NoError(t, their.Halt())
	require.False(t, <-got)
	their.Close()

	require.NoError(t, in.In(gpio.PullNoChange, gpio.BothEdges))
	require.NoError(t, in.Halt())
	require.False(t, in.WaitForEdge(-1))
	require.NoError(t, in.In(gpio.PullNoChange, gpio.BothEdges))
	settle(in)
	go func() { got <- in.WaitForEdge(-1) }()
	_, ended = edgeWithin(got, while)
	require.False(t, ended)
	require.NoError(t, in.Halt())
	edge, ended := edgeWithin(got, soon)
	require.True(t, ended && !edge)
}

// TestGuestABusyLineNamesItsHolder: periph makes a new error of the errno's text
// (gpioioctl/ioctl.go).
func TestGuestABusyLineNamesItsHolder(t *testing.T) {
	first := ourLine(t, guestComputer(t, Options{Consumer: "the first"}), 6)
	require.NoError(t, first.Out(gpio.High))
	theirErr := theirLine(t, 6).Out(gpio.High)
	require.ErrorContains(t, theirErr, unix.EBUSY.Error())
	require.NotErrorIs(t, theirErr, unix.EBUSY)

	c := guestComputer(t, Options{Consumer: "the second"})
	second := ourLine(t, c, 6)
	err := second.Out(gpio.Low)
	require.ErrorIs(t, err, unix.EBUSY)
	require.Equal(t, "the first", reasonOf(t, err, Busy).Holder)
	require.Equal(t, gpio.High, first.Read(), "the first still has it")
	require.Equal(t, []any{true, "the first", true}, state(t, c, 6))
	require.NoError(t, first.Close())
	require.False(t, state(t, c, 6)[0].(bool), "closed is released")
	require.NoError(t, second.Out(gpio.Low))
}

// state is what a list says of a line: whether it is used, by whom, whether it
// is an output.
func state(t *testing.T, c *Computer, offset int) []any {
	t.Helper()
	chip := ourLine(t, c, offset).Chip()
	for _, k := range c.Chips() {
		if k.Name == chip {
			require.Equal(t, "cp2112_gpio", k.Label)
			require.Len(t, k.Lines, 8)
			l := k.Lines[offset]
			return []any{l.Used, l.Consumer, l.Output}
		}
	}
	require.FailNow(t, "the chip is not in the list")
	return nil
}

// TestGuestALineIsReleasedWhenItsProcessDies, without a chance to do it itself.
func TestGuestALineIsReleasedWhenItsProcessDies(t *testing.T) {
	c := guestComputer(t, Options{})
	held := child(t, "TestGuestHoldALine")
	out, err := held.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, held.Start())
	said := make([]byte, len(holding))
	for n := 0; string(said) != holding; n++ {
		require.Less(t, n, 1000, "the child holds no line")
		var one [1]byte
		_, err := out.Read(one[:])
		require.NoError(t, err)
		said = append(said[1:], one[0])
	}
	l := ourLine(t, c, 7)
	err = l.Out(gpio.High)
	require.ErrorIs(t, err, unix.EBUSY)
	require.Equal(t, "the child", reasonOf(t, err, Busy).Holder)
	require.NoError(t, held.Process.Kill())
	var exit *exec.ExitError
	require.ErrorAs(t, held.Wait(), &exit)
	require.NoError(t, l.Out(gpio.High))
}

// holding is what the child says when it has the line.
const holding = "the line is held"
