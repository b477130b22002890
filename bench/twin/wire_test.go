package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
)

// word reads a register of a chip over the bus.
func (h *hand) word(addr uint16, register byte) uint16 {
	r := make([]byte, 2)
	require.NoError(h.t, h.hw.Buses["i2c-main"].Tx(addr, []byte{register}, r))
	return uint16(r[0])<<8 | uint16(r[1])
}

// put writes a 16-bit register.
func (h *hand) put(addr uint16, register byte, value uint16) {
	require.NoError(h.t, h.hw.Buses["i2c-main"].Tx(addr, []byte{register, byte(value >> 8), byte(value)}, nil))
}

// convert makes one conversion of a converter's input at ±4.096 V and 860 per
// second, and waits for the ready bit.
func (h *hand) convert(addr uint16, input int) float64 {
	h.put(addr, 1, 0xc3e3|uint16(input)<<12)
	for range 100 {
		if h.word(addr, 1)&0x8000 != 0 {
			return float64(int16(h.word(addr, 0))) * 125e-6
		}
	}
	h.t.Fatal("never ready")
	return 0
}

// All that a bench sees of the rig goes through registers: what they say is
// what stands in the circuit, within the errors of the wiring file (0.15 %,
// 0.3 mV, noise 62.5 µV; buffers of 1 GΩ).
func TestConvertersSeeTheCircuit(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	charge(t, w, 300*time.Millisecond, "sel_cell1")
	h := newHand(t, w)
	for i, chip := range w.config.Wiring.Chips[:2] {
		for input, net := range chip.Inputs {
			want := volts(t, w, net)
			require.InDelta(t, want, h.convert(0x48+uint16(i), input), 0.0015*want+0.8e-3, net)
		}
	}
}

// The monitors see the shunts: 0.1 Ω and 1 Ω, the second one bypassed by 50 mΩ
// in the high range.
func TestMonitorsSeeTheShunts(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	charge(t, w, 300*time.Millisecond, "sel_cell1")
	h := newHand(t, w)
	for addr, nets := range map[uint16][2]string{0x40: {"meter.hi", "meter.mid"}, 0x41: {"meter.mid", "meter.lo"}} {
		want := volts(t, w, nets[0]) - volts(t, w, nets[1])
		require.InDelta(t, want, float64(int16(h.word(addr, 1)))*2.5e-6, 0.001*want+25e-6)
		require.InDelta(t, volts(t, w, "meter.hi"), float64(h.word(addr, 2))*1.25e-3, 0.02)
		require.Equal(t, uint16(0x5449), h.word(addr, 0xfe))
	}
}

// The alert pins pull their lines low, between any two transfers.
func TestAlertLines(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	h := newHand(t, w)
	h.put(0x40, 7, 12000) // 30 mV: 0.3 A
	h.put(0x40, 6, 0x8001)
	h.put(0x41, 7, 3200) // 4 V
	h.put(0x41, 6, 0x2000)
	for _, name := range []string{"alert1", "alert2"} {
		require.Equal(t, gpio.High, h.hw.Lines[name].Read(), name)
	}
	charge(t, w, 300*time.Millisecond, "sel_cell1")
	for _, name := range []string{"alert1", "alert2"} {
		require.Equal(t, gpio.Low, h.hw.Lines[name].Read(), name)
	}
	drive(t, w, 500*time.Millisecond)
	require.Equal(t, gpio.Low, h.hw.Lines["alert1"].Read(), "latched")
	require.Equal(t, gpio.High, h.hw.Lines["alert2"].Read(), "transparent")
	h.word(0x40, 6)
	require.Equal(t, gpio.High, h.hw.Lines["alert1"].Read(), "reading Mask/Enable clears it")
}

func TestThermometerSeesTheRoom(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	require.Zero(t, h.word(0x4c, 0), "0 °C until the first conversion")
	h.live(time.Second)
	require.InDelta(t, ambient, float64(int16(h.word(0x4c, 0)))/256, 1.4)
}

// Every coil and select of the wiring file hangs on its own pin of its
// expander, and moves when that pin is driven and not otherwise.
func TestEveryCoilHangsOnItsPin(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	h := newHand(t, w)
	h.live(20 * time.Millisecond)
	h.arm(10 * time.Millisecond)
	addresses := map[string]uint16{"out1": 0x20, "out2": 0x21, "out3": 0x22}
	for _, addr := range addresses {
		h.put(addr, 0x12, 0)
		h.put(addr, 0x00, 0)
	}
	for _, k := range w.relays {
		bit := uint16(1) << k.w.Coil.Bit
		h.put(addresses[k.w.Coil.Chip], 0x12, bit<<8|bit>>8)
		h.live(20 * time.Millisecond)
		for _, other := range w.relays {
			require.Equal(t, other == k, other.energised, "%s while %s is on", other.w.Name, k.w.Name)
			require.Equal(t, other == k, other.at == operated, other.w.Name)
		}
		h.put(addresses[k.w.Coil.Chip], 0x12, 0)
	}
	h.live(20 * time.Millisecond)
	for _, c := range []struct {
		bits  uint16
		level string
		of    string
	}{{0x0001, "5 mA", "probe"}, {0x0002, "1.5 A", "csup"}, {0x0004, "3.0 A", "csup"}, {0x0018, "4.1 V", "cellsub"}, {0x0020, "4.25 V", "cellsub"}} {
		h.put(0x22, 0x12, c.bits) // port B carries the selects
		h.live(time.Millisecond)
		for _, s := range w.supplies {
			if p := s.plain(); p.w.Name == c.of {
				require.Equal(t, c.level, p.w.Levels[p.level].Name)
			}
		}
	}
}

// The same seed and the same conversation give the same bytes, fault or not;
// a fault leaves the bytes of what it does not touch as they are.
func TestSameConversationSameBytes(t *testing.T) {
	k := newKit(t, "hand-lamp")
	talk := func(faults ...Fault) (all []float64, reference float64) {
		w := k.twin(t, 77)
		require.NoError(t, w.Seat("S1", faults...))
		charge(t, w, 300*time.Millisecond, "sel_cell1")
		h := newHand(t, w)
		for input := range 4 {
			all = append(all, h.convert(0x48, input), h.convert(0x49, input))
		}
		return all, all[7]
	}
	good, reference := talk()
	again, _ := talk()
	require.Equal(t, good, again)
	bad, untouched := talk(Fault{Name: "rd-10k"})
	require.NotEqual(t, good, bad)
	require.Equal(t, reference, untouched)
}
