package kernel

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
)

// TestTheMachinesWiringIsTheShippedOne: nothing but devices and two values differ.
func TestTheMachinesWiringIsTheShippedOne(t *testing.T) {
	text, f, err := Wiring("bench-one", 4)
	require.NoError(t, err)
	shipped, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	was, is := strings.Split(string(shipped.File.Bytes), "\n"), strings.Split(string(text), "\n")
	require.Len(t, is, len(was))
	changed := 0
	for i := range was {
		if was[i] != is[i] {
			changed++
			require.Regexp(t, `^\s*(device|beat_gap|empty)\s*=`, is[i])
		}
	}
	require.Equal(t, len(shipped.Rig.Lines)+len(shipped.Rig.Buses)+2, changed)
	require.Equal(t, "4", f.Rig.Buses[0].Device)
	for i, l := range f.Rig.Lines {
		n, err := offset(l.Device)
		require.NoError(t, err)
		require.Equal(t, i, n)
	}
	_, err = offset("gpiochip0:5")
	require.ErrorIs(t, err, ErrMachine)
	_, _, err = Wiring("no-such-rig", 1)
	require.ErrorIs(t, err, fixtures.ErrUnknownRig)
}

// newRig is a rig that nothing is plugged into.
func newRig(t *testing.T) (*Rig, *wiring.Rig) {
	_, f, err := Wiring("bench-one", 1)
	require.NoError(t, err)
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	r, err := NewRig(f.Rig, p, 1)
	require.NoError(t, err)
	return r, f.Rig
}

func TestARigAnswersOnItsBus(t *testing.T) {
	r, w := newRig(t)
	chip, ok := w.Chip("out1")
	require.True(t, ok)
	read := make([]byte, 2)
	require.NoError(t, r.Tx(chip.Address, []byte{2, 0x12, 0x34}, nil))
	require.NoError(t, r.Tx(chip.Address, []byte{2}, read))
	require.Equal(t, []byte{0x12, 0x34}, read, "output registers: TI TCA9555 data sheet SCPS200E, sec. 8.6.2")
	require.Len(t, r.Seen().Coils, 1)
	require.ErrorIs(t, r.Tx(0x70, []byte{0}, nil), ErrNoAnswer)
	r.NakAfter(1)
	require.NoError(t, r.Tx(chip.Address, []byte{2}, read))
	require.ErrorIs(t, r.Tx(chip.Address, []byte{2}, read), ErrNoAnswer)
	require.NoError(t, r.Tx(chip.Address, []byte{2}, read))
}

func TestATransferThatHangsLetsOthersLook(t *testing.T) {
	r, w := newRig(t)
	chip, _ := w.Chip("out1")
	begun := r.HangAfter(0, 50*time.Millisecond)
	done := make(chan error, 1)
	go func() { done <- r.Tx(chip.Address, []byte{2}, make([]byte, 2)) }()
	at := <-begun
	l, err := r.Look()
	require.NoError(t, err)
	require.Less(t, l.At-at, 50*time.Millisecond)
	require.NoError(t, <-done)
	require.GreaterOrEqual(t, r.Now()-at, 50*time.Millisecond)
}

func TestARigSeesWhatTheMachineDoes(t *testing.T) {
	r, w := newRig(t)
	line := func(use wiring.LineUse) uint8 {
		for i := range w.Lines {
			if w.Lines[i].Use == use {
				return 1 << i
			}
		}
		require.Fail(t, "no line", "%s", use)
		return 0
	}
	beat, arm, coil, stop := line(wiring.Heartbeat), line(wiring.Arm), line(wiring.CoilSupply), line(wiring.EmergencyStop)
	require.Equal(t, stop, r.Levels()&stop, "active low, and not pressed")
	r.Direct(beat | arm)
	r.Set(beat, beat)
	r.Set(arm, arm)
	time.Sleep(10 * time.Millisecond) // the clock of this rig is the real one, and the pulse has a shortest time
	r.Set(arm, 0)
	require.Equal(t, coil, r.Levels()&coil)
	l, err := r.Look()
	require.NoError(t, err)
	require.True(t, l.Coils)
	seen := r.Seen()
	require.Len(t, seen.Arms, 1)
	require.NotEmpty(t, seen.Beats)

	require.NoError(t, r.Use(func(w *twin.Twin) error { return w.Break(twin.RigFault{Kind: twin.StopPressed}) }))
	require.Zero(t, r.Levels()&(stop|coil))
	l, err = r.Look()
	require.NoError(t, err)
	require.False(t, l.Coils)
}
