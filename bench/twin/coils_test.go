package twin

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench"
)

// hand drives the rig through its hardware, the way a bench does, with a
// heartbeat every 10 ms.
type hand struct {
	t    *testing.T
	w    *Twin
	hw   bench.Hardware
	beat gpio.Level
}

func newHand(t *testing.T, w *Twin) *hand { return &hand{t: t, w: w, hw: w.Hardware()} }

// live lets time go by with heartbeats.
func (h *hand) live(d time.Duration) {
	for end := h.hw.Clock.Now() + d; h.hw.Clock.Now() < end; {
		h.beat = !h.beat
		require.NoError(h.t, h.hw.Lines["heartbeat"].Out(h.beat))
		require.NoError(h.t, h.hw.Clock.Sleep(context.Background(), min(10*time.Millisecond, end-h.hw.Clock.Now())))
	}
}

// arm gives an arm pulse of a length.
func (h *hand) arm(d time.Duration) {
	require.NoError(h.t, h.hw.Lines["arm"].Out(gpio.High))
	h.live(d)
	require.NoError(h.t, h.hw.Lines["arm"].Out(gpio.Low))
}

// write puts a byte into a register of an expander.
func (h *hand) write(addr uint16, register, value byte) {
	require.NoError(h.t, h.hw.Buses["i2c-main"].Tx(addr, []byte{register, value}, nil))
}

// leg1 switches the coil of k_leg1 (out1, A0).
func (h *hand) leg1(on bool) {
	h.write(0x20, 0x00, 0xfe)
	value := byte(0)
	if on {
		value = 1
	}
	h.write(0x20, 0x12, value)
}

func (h *hand) closed(relay string) bool {
	no, _, err := h.w.Truth().Made(relay, 0)
	require.NoError(h.t, err)
	return no
}

func (h *hand) ok() bool { return h.hw.Lines["coil_ok"].Read() == gpio.High }

func TestCoilSupplyNeedsArming(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	h.live(50 * time.Millisecond)
	h.leg1(true)
	h.live(20 * time.Millisecond)
	require.False(t, h.ok(), "latched off after power-up")
	require.False(t, h.closed("k_leg1"))
	h.arm(3 * time.Millisecond)
	require.False(t, h.ok(), "a pulse shorter than the file's 5 ms")
	h.arm(6 * time.Millisecond)
	require.True(t, h.ok())
	h.live(20 * time.Millisecond)
	require.True(t, h.closed("k_leg1"))
	h.leg1(false)
	h.live(20 * time.Millisecond)
	require.False(t, h.closed("k_leg1"))
}

func TestArmingNeedsAHeartbeat(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	require.NoError(t, h.hw.Lines["arm"].Out(gpio.High))
	require.NoError(t, h.hw.Clock.Sleep(context.Background(), 50*time.Millisecond))
	require.False(t, h.ok())
}

// A heartbeat gap over 30 ms drops the coil supply and latches it off.
func TestHeartbeatGapLatches(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	h.live(20 * time.Millisecond)
	h.arm(10 * time.Millisecond)
	h.leg1(true)
	h.live(20 * time.Millisecond)
	require.NoError(t, h.hw.Clock.Sleep(context.Background(), 15*time.Millisecond))
	require.True(t, h.ok(), "29 ms are allowed")
	h.live(10 * time.Millisecond)
	require.NoError(t, h.hw.Clock.Sleep(context.Background(), 21*time.Millisecond))
	require.False(t, h.ok())
	h.live(100 * time.Millisecond)
	require.False(t, h.ok(), "a late loop must not close relays again")
	require.False(t, h.closed("k_leg1"))
	h.arm(10 * time.Millisecond)
	require.True(t, h.ok())
}

// An arm line that sticks active restores the supply once and no more.
func TestArmingIsOncePerPulse(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	h.live(20 * time.Millisecond)
	require.NoError(t, h.hw.Lines["arm"].Out(gpio.High))
	h.live(50 * time.Millisecond)
	require.True(t, h.ok())
	require.NoError(t, h.hw.Clock.Sleep(context.Background(), 40*time.Millisecond))
	h.live(100 * time.Millisecond)
	require.False(t, h.ok())
}

// A transfer that hangs for a second: the contacts, seen in the circuit, are
// open within 50 ms and stay open after it returns.
func TestHangingTransferOpensContacts(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	h.live(20 * time.Millisecond)
	h.arm(10 * time.Millisecond)
	h.leg1(true)
	h.live(20 * time.Millisecond)
	require.True(t, h.closed("k_leg1"))
	k, err := w.relay("k_leg1")
	require.NoError(t, err)
	opened := never
	spy := w.queue.add(nil)
	w.queue.actors[spy.slot] = spyFunc(func(now time.Duration) {
		if !k.contacts[0].madeNO {
			opened = min(opened, now)
		}
		spy.Set(now + time.Millisecond)
	})
	begin := h.hw.Clock.Now()
	spy.Set(begin)
	require.NoError(t, w.Break(RigFault{Kind: BusHang, Part: "i2c-main", For: time.Second}))
	require.Error(t, h.hw.Buses["i2c-main"].Tx(0x20, []byte{0x12}, make([]byte, 1)))
	require.LessOrEqual(t, opened-begin, 50*time.Millisecond)
	h.live(200 * time.Millisecond)
	require.False(t, h.closed("k_leg1"))
}

// spyFunc lets a test look at every instant that it asks for.
type spyFunc func(now time.Duration)

func (f spyFunc) Due(now time.Duration) { f(now) }

func TestStopAndLidCutTheCoils(t *testing.T) {
	for kind, line := range map[RigFaultKind]string{StopPressed: "estop", LidOpened: "lid"} {
		t.Run(string(kind), func(t *testing.T) {
			w := newTwin(t, "hand-lamp", 1)
			h := newHand(t, w)
			h.live(20 * time.Millisecond)
			h.arm(10 * time.Millisecond)
			h.leg1(true)
			h.live(20 * time.Millisecond)
			require.Equal(t, gpio.High, h.hw.Lines[line].Read(), "active low, not active")
			at := h.hw.Clock.Now() + 30*time.Millisecond
			require.NoError(t, w.Break(RigFault{Kind: kind, At: at, For: 100 * time.Millisecond}))
			h.live(20 * time.Millisecond)
			require.True(t, h.closed("k_leg1"), "not yet")
			h.live(20 * time.Millisecond)
			require.Equal(t, gpio.Low, h.hw.Lines[line].Read())
			require.False(t, h.ok())
			h.arm(10 * time.Millisecond)
			require.False(t, h.ok(), "no arming while it lasts")
			h.live(100 * time.Millisecond)
			require.Equal(t, gpio.High, h.hw.Lines[line].Read())
			require.False(t, h.ok(), "only an arm pulse brings it back")
			h.arm(10 * time.Millisecond)
			require.True(t, h.ok())
		})
	}
}

func TestStuckLines(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	require.NoError(t, w.Break(RigFault{Kind: LineStuck, Part: "lid", Value: 1}))
	require.NoError(t, w.Break(RigFault{Kind: LidOpened}))
	require.Equal(t, gpio.High, h.hw.Lines["lid"].Read(), "the switch is stuck shut")
	require.NoError(t, w.Break(RigFault{Kind: LineStuck, Part: "heartbeat", Value: 0}))
	w.coils.lid(w.now, false)
	h.live(30 * time.Millisecond)
	h.arm(10 * time.Millisecond)
	require.False(t, h.ok(), "no edge reaches the monostable")
	w.Mend()
	h.live(30 * time.Millisecond)
	h.arm(10 * time.Millisecond)
	require.True(t, h.ok())
}

func TestLineWaitsForAnEdge(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	lid := w.Hardware().Lines["lid"]
	require.NoError(t, lid.In(gpio.PullUp, gpio.FallingEdge))
	require.Equal(t, gpio.PullUp, lid.Pull())
	require.NoError(t, w.Break(RigFault{Kind: LidOpened, At: 200 * time.Millisecond, For: 100 * time.Millisecond}))
	require.False(t, lid.WaitForEdge(50*time.Millisecond), "nothing happens within 50 ms")
	require.True(t, lid.WaitForEdge(time.Second))
	require.Equal(t, 200*time.Millisecond, w.Hardware().Clock.Now())
	require.False(t, lid.WaitForEdge(time.Second), "the lid shuts: that edge was not asked for")
	require.NoError(t, lid.In(gpio.PullUp, gpio.BothEdges))
	require.NoError(t, w.Break(RigFault{Kind: LidOpened, At: 2 * time.Second}))
	require.True(t, lid.WaitForEdge(-1), "for ever")
	require.Equal(t, 2*time.Second, w.Hardware().Clock.Now())
}

func TestLineIsAPlainLine(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	beat := w.Hardware().Lines["heartbeat"]
	require.Equal(t, "heartbeat", beat.Name())
	require.Equal(t, "heartbeat", beat.String())
	require.Equal(t, -1, beat.Number())
	before := w.Hardware().Clock.Now()
	require.NoError(t, beat.Out(gpio.High))
	require.Equal(t, gpio.High, beat.Read())
	require.Equal(t, 2*lineAccess, w.Hardware().Clock.Now()-before)
	require.Equal(t, gpio.Float, beat.DefaultPull())
	require.ErrorIs(t, beat.PWM(gpio.DutyHalf, 1000), errNoPWM)
	require.NoError(t, beat.Halt())
	require.NoError(t, beat.Halt())
}
