package linux

import (
	"io/fs"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"
)

// onlyLine finds line 1 of a board with one chip of two lines.
func onlyLine(t *testing.T) (*Line, *wire) {
	t.Helper()
	b := newBoard(t)
	k := b.chip(t, 0, "relays", "", "lid")
	l, err := b.computer(t).FindLine("relays:1")
	require.NoError(t, err)
	return l, k.wires[1]
}

func TestALineIsFoundByEveryReference(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 0, "main", "GPIO0", "SPI0:7", "GPIO2")
	b.chip(t, 3, "relays", "", "")
	b.chip(t, 4, "SPI0", "", "")
	c := b.computer(t)
	for ref, name := range map[string]string{
		"main:2": "gpiochip0:2", "gpiochip0:2": "gpiochip0:2", "/dev/gpiochip0:2": "gpiochip0:2", "GPIO2": "gpiochip0:2",
		"relays:0": "gpiochip3:0", "gpiochip3:1": "gpiochip3:1", "SPI0:1": "gpiochip4:1",
	} {
		l, err := c.FindLine(ref)
		require.NoError(t, err, ref)
		require.Equal(t, name, l.Name())
		again, err := c.FindLine(name)
		require.NoError(t, err)
		require.Same(t, l, again, "one line is one Line")
	}
	l, err := c.FindLine("GPIO2")
	require.NoError(t, err)
	require.Equal(t, "gpiochip0:2 (GPIO2)", l.String())
	require.Equal(t, 2, l.Number())
	require.Equal(t, "gpiochip0", l.Chip())
}

// TestANameWithAColonIsALineWhereNoChipHasIt: the kernel's names may hold any
// character.
func TestANameWithAColonIsALineWhereNoChipHasIt(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 0, "main", "GPIO0", "SPI0:7")
	l, err := b.computer(t).FindLine("SPI0:7")
	require.NoError(t, err)
	require.Equal(t, "gpiochip0:1", l.Name())
}

func TestAReferenceThatFitsSeveralLinesListsThem(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 0, "twin", "WAKE", "a")
	b.chip(t, 1, "twin", "b", "WAKE")
	c := b.computer(t)
	for ref, want := range map[string]string{"WAKE": "gpiochip0:0, gpiochip1:1", "twin:1": "gpiochip0:1, gpiochip1:1"} {
		_, err := c.FindLine(ref)
		require.ErrorIs(t, err, ErrAmbiguous)
		require.ErrorContains(t, err, want)
		reasonOf(t, err, Ambiguous)
	}
}

func TestAnAbsentLineSaysWhatIsMissing(t *testing.T) {
	b := newBoard(t)
	c := b.computer(t)
	_, err := c.FindLine("lid")
	require.ErrorIs(t, err, ErrAbsent)
	require.Contains(t, reasonOf(t, err, Absent).Hint, "knows no digital lines")

	b.sys(t, "bus/gpio/devices/gpiochip0/dev", "254:0\n")
	_, err = c.FindLine("lid")
	require.Contains(t, reasonOf(t, err, Absent).Hint, "no device for them")

	b.chip(t, 0, "main", "a")
	_, err = c.FindLine("lid")
	require.Contains(t, reasonOf(t, err, Absent).Hint, "other lines")
	_, err = c.FindLine("main:1")
	require.ErrorContains(t, err, "the chip has no line 1")
	reasonOf(t, err, Absent)
	_, err = c.FindLine("")
	require.ErrorIs(t, err, ErrReference)
}

// TestAChipThatCannotBeOpenedIsTheReason: its lines may be the ones that are
// asked for.
func TestAChipThatCannotBeOpenedIsTheReason(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 0, "main", "a")
	b.chip(t, 1, "other", "b").refuse[gpioChipInfo] = unix.EIO
	c := b.computer(t)
	for _, ref := range []string{"lid", "gpiochip1:0", "other:0"} {
		_, err := c.FindLine(ref)
		require.ErrorIs(t, err, unix.EIO, ref)
		reasonOf(t, err, Trouble)
	}
	_, err := c.FindLine("a")
	require.NoError(t, err, "a line that is found needs no other chip")
	_, err = c.FindLine("main:1")
	require.ErrorIs(t, err, ErrAbsent, "the chip that is named has answered")
}

func TestALineIsNotRequestedBeforeItsFirstUse(t *testing.T) {
	l, w := onlyLine(t)
	require.Empty(t, l.Function())
	_, err := l.ReadLevel()
	require.ErrorIs(t, err, ErrNotRequested)
	require.Equal(t, gpio.Low, l.Read())
	require.False(t, l.WaitForEdge(-1))
	require.NoError(t, l.Halt())
	require.NoError(t, l.Close())
	require.Empty(t, w.log)
}

// TestAnOutputGetsItsFirstLevelInItsRequest, and later ones alone.
func TestAnOutputGetsItsFirstLevelInItsRequest(t *testing.T) {
	l, w := onlyLine(t)
	require.NoError(t, l.Out(gpio.High))
	require.NoError(t, l.Out(gpio.Low))
	require.Equal(t, []string{"request 0x8 at true", "set false"}, w.log)
	require.Equal(t, "bench", w.consumer)
	require.Equal(t, "OUT", l.Function())
}

func TestAnInputBecomesAnOutputAtItsLevel(t *testing.T) {
	l, w := onlyLine(t)
	require.NoError(t, l.In(gpio.PullNoChange, gpio.NoEdge))
	require.NoError(t, l.Out(gpio.High))
	require.NoError(t, l.In(gpio.PullNoChange, gpio.NoEdge))
	require.Equal(t, []string{"request 0x4", "config 0x8 at true", "config 0x4"}, w.log, "one request is kept all the while")
}

func TestReadingAnOutputChangesNothing(t *testing.T) {
	l, w := onlyLine(t)
	require.NoError(t, l.Out(gpio.High))
	for range 2 {
		require.Equal(t, gpio.High, l.Read())
	}
	level, err := l.ReadLevel()
	require.NoError(t, err)
	require.Equal(t, gpio.High, level)
	require.Equal(t, []string{"request 0x8 at true", "get", "get", "get"}, w.log)
	require.Equal(t, "OUT", l.Function())
}

// TestAnInputAsksForItsPullAndEdges: the flags are those of include/uapi/linux/
// gpio.h.
func TestAnInputAsksForItsPullAndEdges(t *testing.T) {
	for name, c := range map[string]struct {
		pull gpio.Pull
		edge gpio.Edge
		want string
	}{
		"plain":         {gpio.PullNoChange, gpio.NoEdge, "request 0x4"},
		"float":         {gpio.Float, gpio.NoEdge, "request 0x404"},
		"pull-up":       {gpio.PullUp, gpio.NoEdge, "request 0x104"},
		"pull-down":     {gpio.PullDown, gpio.NoEdge, "request 0x204"},
		"rising edges":  {gpio.PullNoChange, gpio.RisingEdge, "request 0x14"},
		"falling edges": {gpio.PullNoChange, gpio.FallingEdge, "request 0x24"},
		"both edges":    {gpio.PullUp, gpio.BothEdges, "request 0x134"},
	} {
		t.Run(name, func(t *testing.T) {
			l, w := onlyLine(t)
			require.NoError(t, l.In(c.pull, c.edge))
			require.Equal(t, []string{c.want}, w.log)
			require.Equal(t, c.pull, l.Pull())
			require.Equal(t, gpio.PullNoChange, l.DefaultPull())
			require.Equal(t, "IN", l.Function())
		})
	}
}

func TestAnInputThatCannotBeIsRefused(t *testing.T) {
	l, w := onlyLine(t)
	require.ErrorIs(t, l.In(gpio.Pull(9), gpio.NoEdge), ErrOptions)
	require.ErrorIs(t, l.In(gpio.Float, gpio.Edge(4)), ErrOptions)
	require.Empty(t, w.log)
	require.ErrorIs(t, l.PWM(gpio.DutyHalf, physic.Hertz), ErrNoPWM)
}

// TestAChipWithoutPullsLetsAnInputFloat, and says so where a pull is wanted.
func TestAChipWithoutPullsLetsAnInputFloat(t *testing.T) {
	for _, errno := range []unix.Errno{524, unix.EOPNOTSUPP, unix.EINVAL} { // 524: ENOTSUPP, include/linux/errno.h
		l, w := onlyLine(t)
		w.refuse[flagBiasDisabled], w.refuse[flagPullUp] = errno, errno
		require.NoError(t, l.In(gpio.Float, gpio.NoEdge))
		require.NoError(t, l.In(gpio.PullNoChange, gpio.NoEdge))
		require.ErrorIs(t, l.In(gpio.PullUp, gpio.NoEdge), errno)
	}
}

func TestABusyLineNamesItsHolder(t *testing.T) {
	l, w := onlyLine(t)
	w.flags, w.consumer = flagUsed, "other program"
	err := l.Out(gpio.High)
	require.ErrorIs(t, err, unix.EBUSY)
	require.Equal(t, "other program", reasonOf(t, err, Busy).Holder)
	require.ErrorContains(t, err, `line gpiochip0:1 (lid): "other program" holds it`)
	w.consumer = ""
	err = l.In(gpio.PullNoChange, gpio.NoEdge)
	require.ErrorIs(t, err, unix.EBUSY)
	require.ErrorContains(t, err, "gave no name")
	require.Empty(t, w.log)
	w.flags = 0
	require.NoError(t, l.Out(gpio.High), "it may be tried again")
}

func TestAChipThatIsGoneIsAReason(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 0, "main", "a")
	l, err := b.computer(t).FindLine("a")
	require.NoError(t, err)
	require.NoError(t, unix.Unlink(l.path))
	err = l.Out(gpio.High)
	require.ErrorIs(t, err, fs.ErrNotExist)
	reasonOf(t, err, Absent)
}

func TestALineThatBreaksKeepsTheErrno(t *testing.T) {
	l, w := onlyLine(t)
	require.NoError(t, l.Out(gpio.High))
	w.broken = unix.ENODEV
	_, err := l.ReadLevel()
	require.ErrorIs(t, err, unix.ENODEV)
	require.Equal(t, gpio.Low, l.Read(), "Read has no room for an error")
	require.ErrorIs(t, l.Out(gpio.Low), unix.ENODEV)
	require.ErrorIs(t, l.In(gpio.Float, gpio.NoEdge), unix.ENODEV)
}

func TestALineIsReleasedByClose(t *testing.T) {
	l, w := onlyLine(t)
	before := open(t)
	require.NoError(t, l.Out(gpio.High))
	require.Equal(t, before+3, open(t), "the request, its wake-up and the board's end of the pipe")
	require.NoError(t, l.Close())
	require.NoError(t, l.Close())
	require.Empty(t, l.Function())
	require.NoError(t, unix.Close(w.queue))
	require.Equal(t, before, open(t))
	w.flags = 0
	require.NoError(t, l.In(gpio.PullNoChange, gpio.NoEdge), "it may be requested again")
}

func TestALineMayBeUsedFromSeveralSides(t *testing.T) {
	l, _ := onlyLine(t)
	var all sync.WaitGroup
	for i := range 4 {
		all.Go(func() {
			for range 50 {
				if err := l.Out(gpio.Level(i%2 == 0)); err != nil {
					t.Error(err)
				}
				l.Read()
				l.Function()
				l.Pull()
			}
		})
	}
	all.Wait()
}

func TestChipsAreListedWithTheirLines(t *testing.T) {
	b := newBoard(t)
	k := b.chip(t, 2, "main", "GPIO0", "")
	k.wires[1].flags, k.wires[1].consumer = flagUsed|flagOutput|flagActiveLow|flagOpenDrain, "cd card"
	k.wires[0].flags = flagInput | flagPullUp | flagRising | flagFalling
	b.chip(t, 10, "far")
	b.chip(t, 0, "old", "a").refuse[unix.GPIO_V2_GET_LINEINFO_IOCTL] = unix.EINVAL
	b.dev(t, "gpiochip-x")
	require.NoError(t, unix.Symlink("gpiochip2", b.opts.Dev+"/gpiochip4"))
	all := b.computer(t).Chips()
	require.Len(t, all, 3, "a second device of a chip is no chip")
	require.Equal(t, Unfit, all[0].Reason.Kind)
	require.Contains(t, all[0].Reason.Hint, "5.10")
	main := all[1]
	require.Equal(t, []string{"gpiochip4"}, main.Aliases)
	require.Equal(t, "main", main.Label)
	require.Nil(t, main.Reason)
	require.Equal(t, []LineInfo{
		{Offset: 0, Name: "GPIO0", Flags: []string{"rising edges", "falling edges", "pull-up"}},
		{Offset: 1, Used: true, Consumer: "cd card", Output: true, Flags: []string{"active low", "open drain"}},
	}, main.Lines)
	require.Equal(t, "gpiochip10", all[2].Name)
	require.Empty(t, all[2].Lines)

	l, err := b.computer(t).FindLine("gpiochip4:0")
	require.NoError(t, err)
	require.Equal(t, "gpiochip2:0", l.Name())
}
