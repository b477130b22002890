package thermometer

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/chip/chiptest"
)

// fake is a sensor with registers and conversions that take their time: state,
// not a script. It has no more bits than its variant.
type fake struct {
	chiptest.Wire
	bits           int
	wide           bool // the configuration has two bytes, as on a TMP1075
	config         byte
	alarm, release uint16
	temperature    uint16
	pointer        byte
	period         time.Duration
	next           time.Duration // end of the running conversion
	doneEnd        time.Duration
	celsius        float64
	oneByteReads   int
}

func newFake(bits int) *fake {
	f := &fake{
		Wire:    chiptest.Wire{Clock: &chiptest.Clock{}, Addr: 0x4C},
		bits:    bits,
		period:  220 * time.Millisecond,
		celsius: 25,
	}
	f.reset()
	return f
}

// reset does what a dip of the supply does: 80 and 75 °C (TI LM75B data sheet
// SNIS153B, p. 11), 0 °C until the first conversion (TI TMP75 data sheet).
func (f *fake) reset() {
	f.config, f.alarm, f.release, f.temperature = 0, 0x5000, 0x4B00, 0
	f.next = f.Clock.Now() + f.period
}

func (f *fake) elapse() {
	for f.config&1 == 0 && f.Clock.Now() >= f.next {
		step := 256 / math.Pow(2, float64(f.bits))
		code := int16(math.Floor(f.celsius/step + 0.5))
		f.temperature = uint16(code) << (16 - f.bits)
		f.doneEnd = f.next
		f.next += f.period
	}
}

func (f *fake) Tx(addr uint16, w, r []byte) error {
	if err := f.Carry(addr, w, r); err != nil {
		return err
	}
	f.elapse()
	if len(w) > 0 {
		f.pointer = w[0] & 3
	}
	f.write(w)
	if len(r) == 1 {
		f.oneByteReads++
	}
	if len(r) == 2 {
		v := f.read()
		r[0], r[1] = byte(v>>8), byte(v)
	}
	return nil
}

func (f *fake) write(w []byte) {
	kept := uint16(0xFFFF) << (16 - min(f.bits|1, 12)) // limits of an 11-bit chip have 9
	if f.bits == 11 {
		kept = 0xFF80
	}
	switch {
	case f.pointer == 1 && len(w) == 2:
		was := f.config
		f.config = w[1] & 0x7F
		if f.bits != 12 {
			f.config &= 0x1F // reserved bits stay 0
		}
		if was&1 != 0 && f.config&1 == 0 {
			f.next = f.Clock.Now() + f.period
		}
	case f.pointer == 2 && len(w) == 3:
		f.release = (uint16(w[1])<<8 | uint16(w[2])) & kept
	case f.pointer == 3 && len(w) == 3:
		f.alarm = (uint16(w[1])<<8 | uint16(w[2])) & kept
	}
}

func (f *fake) read() uint16 {
	switch f.pointer {
	case 0:
		return f.temperature
	case 1:
		if f.wide {
			return uint16(f.config)<<8 | 0x00FF
		}
		return uint16(f.config)<<8 | uint16(f.config)
	case 2:
		return f.release
	}
	return f.alarm
}

func options(bits int) Opts {
	o := DefaultOpts()
	o.Bits = bits
	return o
}

func open(t testing.TB, bits int) (*Dev, *fake) {
	t.Helper()
	f := newFake(bits)
	d, err := New(f, f.Clock, options(bits))
	require.NoError(t, err)
	return d, f
}
