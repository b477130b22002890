package expander16

import (
	"testing"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
)

const at = 0x20

// pair is a write of two registers and the reading that confirms it.
func pair(reg, a, b byte) []i2ctest.IO {
	return []i2ctest.IO{
		{Addr: at, W: []byte{reg, a, b}},
		{Addr: at, W: []byte{reg}, R: []byte{a, b}},
	}
}

// hello is the conversation of New with default options: BANK = 0 from either
// bank, latches off, proof, levels, and only then the directions.
func hello() []i2ctest.IO {
	ops := []i2ctest.IO{
		{Addr: at, W: []byte{0x05, 0x00}},
		{Addr: at, W: []byte{0x0A, 0x00, 0x00}},
		{Addr: at, W: []byte{0x14, 0x00, 0x00}},
	}
	for _, p := range [][3]byte{
		{0x06, 0xAA, 0x55}, {0x06, 0x55, 0xAA}, {0x06, 0, 0},
		{0x02, 0, 0}, {0x04, 0, 0}, {0x0C, 0, 0}, {0x00, 0, 0},
	} {
		ops = append(ops, pair(p[0], p[1], p[2])...)
	}
	return append(ops, i2ctest.IO{Addr: at, W: []byte{0x12}, R: []byte{0, 0, 0, 0}})
}

func TestWriteSpeaksAsTheDataSheetSays(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true, Ops: append(hello(), []i2ctest.IO{
		{Addr: at, W: []byte{0x14, 0x34, 0x12}},
		{Addr: at, W: []byte{0x12}, R: []byte{0x34, 0x12, 0x34, 0x12}},
		{Addr: at, W: []byte{0x05, 0x00}},
		{Addr: at, W: []byte{0x0A, 0x00, 0x00}},
		{Addr: at, W: []byte{0x14, 0x00, 0x00}},
		{Addr: at, W: []byte{0x12}, R: []byte{0x00, 0x00, 0x00, 0x00}},
	}...)}
	d, err := New(bus, DefaultOpts())
	require.NoError(t, err)
	require.NoError(t, d.Write(0x1234))
	require.NoError(t, d.Halt())
	require.NoError(t, bus.Close())
	require.Equal(t, "expander16(20h)", d.String())
}

func TestNewTalksTheSameToALivingChip(t *testing.T) {
	rec := &i2ctest.Record{Bus: newFake()}
	_, err := New(rec, DefaultOpts())
	require.NoError(t, err)
	require.Equal(t, hello(), rec.Ops)
}

func TestNewRefusesOptionsBeforeItTalks(t *testing.T) {
	for name, o := range map[string]Opts{
		"address too low":       {Addr: 0x1F},
		"address too high":      {Addr: 0x28},
		"output and input":      {Addr: 0x20, Outputs: 3, Inputs: 2},
		"active low input":      {Addr: 0x20, Outputs: 1, Inputs: 2, ActiveLow: 2},
		"pull-up on output":     {Addr: 0x20, Outputs: 1, PullUp: 1},
		"input at GPA7":         {Addr: 0x20, Inputs: 0x0080},
		"input at GPB7":         {Addr: 0x20, Inputs: 0x8000},
		"pull-up without input": {Addr: 0x20, Outputs: 1, PullUp: 4},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := New(&i2ctest.Playback{DontPanic: true}, o)
			require.ErrorIs(t, err, ErrSetting)
		})
	}
}

// A host that restarts finds the chip as it was left: either bank, either way
// of stepping, coils on, polarity turned, anything in any register.
func TestNewTakesTheChipOverFromAnyState(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake()
		before := rapid.SliceOfN(rapid.Byte(), len(f.reg), len(f.reg)).Draw(rt, "registers")
		copy(f.reg[:], before)
		f.reg[iocon+1] = f.reg[iocon]
		f.pointer = rapid.Byte().Draw(rt, "pointer")
		f.activeLow = rapid.Uint16().Draw(rt, "active low")
		driven := f.coils()
		o := DefaultOpts()
		o.ActiveLow = f.activeLow
		d, err := New(f, o)
		require.NoError(rt, err)
		require.Zero(rt, f.lit&^driven, "a coil that was off came on")
		require.Zero(rt, f.coils())
		require.NoError(rt, d.Write(0xA5C3))
		require.Equal(rt, uint16(0xA5C3), f.coils())
	})
}

func TestNewFindsThatNobodyAnswers(t *testing.T) {
	for _, b := range []byte{0x00, 0xFF} {
		_, err := New(&constant{b: b}, DefaultOpts())
		require.ErrorIs(t, err, chip.ErrIdentity, "every byte reads %02Xh", b)
	}
}

// constant answers every reading with one byte, as an adapter does that
// swallows missing acknowledges (0) or a bus that nobody drives (FFh).
type constant struct {
	chiptest.Wire
	b byte
}

func (c *constant) Tx(_ uint16, _, r []byte) error {
	for i := range r {
		r[i] = c.b
	}
	return nil
}

func TestBothPortsChangeInOneTransfer(t *testing.T) {
	f := newFake()
	d := openOn(t, f, DefaultOpts())
	f.patterns = nil
	for _, p := range []uint16{0xFFFF, 0x00FF, 0xFF00, 0x8001, 0} {
		require.NoError(t, d.Write(p))
	}
	require.Equal(t, []uint16{0xFFFF, 0x00FF, 0xFF00, 0x8001, 0}, f.patterns, "no pattern that nobody asked for")
}

func TestActiveLowCoilsAreReleasedByAHighLevel(t *testing.T) {
	f := newFake()
	d := openOn(t, f, Opts{Addr: 0x20, Outputs: 0x00FF, ActiveLow: 0x000F})
	require.Zero(t, f.lit, "a coil came on while the chip was opened")
	require.Equal(t, uint16(0x000F), f.word(olat)&0x00FF)
	require.NoError(t, d.Write(0x0011))
	require.Equal(t, uint16(0x001E), f.word(olat)&0x00FF)
	require.Equal(t, uint16(0x0011), f.coils())
	got, err := d.Outputs()
	require.NoError(t, err)
	require.Equal(t, uint16(0x0011), got)
	require.NoError(t, d.Halt())
	require.Zero(t, f.coils())
}

func TestSetAndClearLeaveTheOtherCoils(t *testing.T) {
	f := newFake()
	d := openOn(t, f, DefaultOpts())
	require.NoError(t, d.Write(0x00F0))
	require.NoError(t, d.Set(0x8001))
	require.Equal(t, uint16(0x80F1), f.coils())
	require.NoError(t, d.Clear(0x0091))
	require.Equal(t, uint16(0x8060), f.coils())
}

func TestWriteRefusesPinsThatAreNoOutputs(t *testing.T) {
	f := newFake()
	d := openOn(t, f, Opts{Addr: 0x20, Outputs: 0x00FF})
	cut := &chiptest.Cut{Bus: f, How: chiptest.Dead}
	d.bus = cut
	err := d.Write(0x0180)
	require.ErrorIs(t, err, ErrSetting)
	require.ErrorContains(t, err, "write 0180h: no such setting: pins 0100h are no outputs")
	require.Zero(t, cut.Count)
}

func TestInputsAndUnusedPins(t *testing.T) {
	f := newFake()
	d := openOn(t, f, Opts{Addr: 0x20, Outputs: 0x80F0, Inputs: 0x0003, PullUp: 0x0001})
	require.Equal(t, ^uint16(0x80F0), f.word(0), "all but the outputs stay inputs")
	require.Equal(t, ^uint16(0x80F0|0x0002), f.word(0x0C), "unused pins do not float")
	f.outside = 0x7F0E
	got, err := d.Inputs()
	require.NoError(t, err)
	require.Equal(t, uint16(0x0002), got)
	require.NoError(t, d.Write(0x80F0), "what the inputs read is no concern of the outputs")
}

func TestReadbackNamesWantedAndFound(t *testing.T) {
	for name, c := range map[string]struct {
		harm func(f *fake)
		want ReadbackError
		text string
	}{
		"pin shorted low": {
			func(f *fake) { f.held = 0x0004 },
			ReadbackError{Port, 0x0005, 0x0001},
			"expander16(20h): write 0005h: port reads back 0001h, wanted 0005h, pins 0004h differ",
		},
		"pin shorted high": {
			func(f *fake) { f.held, f.outside = 0x8000, 0x8000 },
			ReadbackError{Port, 0x0005, 0x8005},
			"expander16(20h): write 0005h: port reads back 8005h, wanted 0005h, pins 8000h differ",
		},
		"chip reset": {
			func(f *fake) { f.reset() },
			ReadbackError{Port, 0x0005, 0x0000},
			"expander16(20h): write 0005h: port reads back 0000h, wanted 0005h, pins 0005h differ",
		},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake()
			d := openOn(t, f, DefaultOpts())
			c.harm(f)
			err := d.Write(0x0005)
			require.ErrorIs(t, err, ErrReadback)
			var r *ReadbackError
			require.ErrorAs(t, err, &r)
			require.Equal(t, c.want, *r)
			require.EqualError(t, err, c.text)
		})
	}
}

// garbled changes a bit of one write on its way.
type garbled struct {
	*fake
	armed bool
}

func (g *garbled) Tx(addr uint16, w, r []byte) error {
	if g.armed && len(w) == 3 {
		g.armed = false
		w[1] ^= 0x10
	}
	return g.fake.Tx(addr, w, r)
}

func TestReadbackNoticesADamagedTransfer(t *testing.T) {
	g := &garbled{fake: newFake()}
	d, err := New(g, DefaultOpts())
	require.NoError(t, err)
	g.armed = true
	err = d.Write(0x0005)
	var r *ReadbackError
	require.ErrorAs(t, err, &r)
	require.Equal(t, ReadbackError{Latch, 0x0005, 0x0015}, *r)
	require.ErrorContains(t, err, "latch reads back 0015h, wanted 0005h")
	require.NoError(t, d.Halt())
	require.Zero(t, g.coils())
}

func TestOutputsNoticePinsThatDoNotFollow(t *testing.T) {
	f := newFake()
	d := openOn(t, f, DefaultOpts())
	require.NoError(t, d.Write(0x00FF))
	f.held = 0x0001
	_, err := d.Outputs()
	require.ErrorIs(t, err, ErrReadback)
	require.ErrorIs(t, d.Set(0x0100), ErrReadback, "no change on top of a state that is not understood")
}

func TestHaltWorksTwiceAndRecoversTheMap(t *testing.T) {
	f := newFake()
	d := openOn(t, f, DefaultOpts())
	require.NoError(t, d.Write(0xFFFF))
	require.NoError(t, d.Halt())
	require.NoError(t, d.Halt())
	require.Zero(t, f.coils())

}

// Thrown into BANK 1, the chip answers zeros where the latch should be.
func TestOffIsNotBelievedFromAChipInTheOtherBank(t *testing.T) {
	for name, off := range map[string]func(*Dev) error{
		"halt":  (*Dev).Halt,
		"write": func(d *Dev) error { return d.Write(0) },
	} {
		for _, control := range []byte{0x80, 0xA0, 0x20} {
			f := newFake()
			d := openOn(t, f, DefaultOpts())
			require.NoError(t, d.Write(0xFFFF))
			f.reg[iocon], f.reg[iocon+1] = control, control
			require.NoError(t, off(d), "%s with IOCON = %02Xh", name, control)
			require.Zero(t, f.coils(), "%s with IOCON = %02Xh", name, control)
			require.False(t, f.bank1())
		}
	}
}

func TestWriteToAChipInTheOtherBank(t *testing.T) {
	f := newFake()
	d := openOn(t, f, DefaultOpts())
	f.reg[iocon], f.reg[iocon+1] = 0xA0, 0xA0
	require.ErrorIs(t, d.Write(0x0001), ErrReadback)
}

func TestHaltSaysThatACoilStaysOn(t *testing.T) {
	f := newFake()
	d := openOn(t, f, DefaultOpts())
	f.held, f.outside = 0x0002, 0x0002
	err := d.Halt()
	require.ErrorIs(t, err, ErrReadback)
	require.ErrorContains(t, err, "expander16(20h): halt: ")
}

func TestHaltOnADeadBusKeepsTheCause(t *testing.T) {
	d := openOn(t, newFake(), DefaultOpts())
	d.bus = &chiptest.Cut{How: chiptest.Dead}
	require.ErrorIs(t, d.Halt(), chiptest.ErrCut)
	_, err := d.Inputs()
	require.ErrorIs(t, err, chiptest.ErrCut)
}

// leaveNothing proves that after whatever happened every coil can be released.
func leaveNothing(t *testing.T, d *Dev, f *fake, cut *chiptest.Cut) {
	t.Helper()
	cut.Heal()
	require.NoError(t, d.Halt())
	require.NoError(t, d.Halt())
	require.Zero(t, f.coils())
	require.Zero(t, f.word(olat))
}

func TestNewCutAtEveryTransfer(t *testing.T) {
	chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
		f := newFake()
		f.reg = [0x16]byte{olat: 0x55, olat + 1: 0x55} // an earlier program left coils on
		cut.Bus = f
		d, err := New(cut, DefaultOpts())
		if err == nil {
			leaveNothing(t, d, f, cut)
			return nil
		}
		require.Nil(t, d)
		if cut.How != chiptest.Dead {
			require.Zero(t, f.coils(), "New gave up and left a coil on")
		}
		cut.Heal()
		leaveNothing(t, openOn(t, f, DefaultOpts()), f, cut)
		return err
	})
}

func TestWriteCutAtEveryTransfer(t *testing.T) {
	chiptest.EveryCut(t, func(t *testing.T, cut *chiptest.Cut) error {
		f := newFake()
		d := openOn(t, f, DefaultOpts())
		cut.Bus, d.bus = f, cut
		err := d.Write(0x0F0F)
		if err == nil {
			err = d.Set(0x1000)
		}
		if err == nil {
			err = d.Clear(0x0001)
		}
		if err == nil {
			_, err = d.Outputs()
		}
		require.Zero(t, f.lit&^0x1F0F, "a coil that nobody asked for")
		leaveNothing(t, d, f, cut)
		return err
	})
}

// One transfer lost, anywhere in Halt, must not keep a coil on.
func TestHaltSurvivesOneLostTransfer(t *testing.T) {
	for how := chiptest.Unheard; how <= chiptest.Unanswered; how++ {
		for lost := range 4 {
			f := newFake()
			d := openOn(t, f, DefaultOpts())
			require.NoError(t, d.Write(0xFFFF))
			d.bus = &chiptest.Cut{Bus: f, How: how, At: lost}
			require.NoError(t, d.Halt(), "%s %d", how, lost)
			require.Zero(t, f.coils())
		}
	}
}

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake()
		o := Opts{Addr: 0x20, Outputs: rapid.Uint16().Draw(rt, "outputs")}
		o.ActiveLow = rapid.Uint16().Draw(rt, "active low") & o.Outputs
		f.outside = rapid.Uint16().Draw(rt, "levels at the inputs")
		f.activeLow = o.ActiveLow
		d, err := New(f, o)
		require.NoError(rt, err)
		coils := rapid.Uint16().Draw(rt, "coils") & o.Outputs
		require.NoError(rt, d.Write(coils))
		require.Equal(rt, coils, f.coils())
		got, err := d.Outputs()
		require.NoError(rt, err)
		require.Equal(rt, coils, got)
	})
}

// FuzzRegisters lets a chip answer anything to a reading of port and latch.
// Outputs accepts it only when both agree on every output.
func FuzzRegisters(f *testing.F) {
	f.Add([]byte{0x34, 0x12, 0x34, 0x12}, uint16(0xFFFF), uint16(0))
	f.Add([]byte{0x34, 0x12, 0x00, 0x00}, uint16(0x00FF), uint16(0x000F))
	f.Add([]byte{}, uint16(0), uint16(0))
	f.Fuzz(func(t *testing.T, text []byte, outputs, activeLow uint16) {
		d := &Dev{bus: &babble{text: text}, opts: Opts{Addr: at, Outputs: outputs, ActiveLow: activeLow & outputs}}
		var r [4]byte
		copy(r[:], text)
		port, latch := uint16(r[0])|uint16(r[1])<<8, uint16(r[2])|uint16(r[3])<<8
		coils, err := d.Outputs()
		require.Equal(t, (port^latch)&outputs == 0, err == nil)
		if err == nil {
			require.Equal(t, (latch^activeLow)&outputs, coils)
		}
	})
}

// babble answers each reading with the same bytes.
type babble struct {
	chiptest.Wire
	text []byte
}

func (b *babble) Tx(_ uint16, _, r []byte) error {
	clear(r)
	copy(r, b.text)
	return nil
}

// mirror is a bus that costs nothing and whose pins follow the latch.
type mirror struct {
	chiptest.Wire
	latch [2]byte
}

func (m *mirror) Tx(_ uint16, w, r []byte) error {
	if len(w) == 3 {
		copy(m.latch[:], w[1:])
	}
	for i := range r {
		r[i] = m.latch[i%2]
	}
	return nil
}

func TestWriteAllocatesNothing(t *testing.T) {
	d, err := New(&mirror{}, DefaultOpts())
	require.NoError(t, err)
	require.Zero(t, testing.AllocsPerRun(100, func() {
		if d.Write(0x1234) != nil || d.Clear(0x0004) != nil {
			t.Fatal("write failed")
		}
	}))
}

func BenchmarkWrite(b *testing.B) {
	d, err := New(&mirror{}, DefaultOpts())
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		if err := d.Write(0x1234); err != nil {
			b.Fatal(err)
		}
	}
}
