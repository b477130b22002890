package powermon

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench/chip/chiptest"
)

// fake is a monitor with registers, a conversion that runs and an alert: state,
// not a script. Its arithmetic is written anew from the data sheet (SBOS547)
// and shares nothing with the driver.
type fake struct {
	chiptest.Wire
	config, cal, mask, limit uint16
	shunt, current           int16
	bus, power               uint16
	pointer                  byte
	busy                     bool
	start, end               time.Duration
	done                     int
	doneStart, doneEnd       time.Duration
	ready, overflow, alert   bool
	slow                     float64 // conversion time over typical
	stuck                    bool
	// shuntVolts and busVolts are the inputs at the n-th conversion.
	shuntVolts, busVolts func(n int) float64
	manufacturer, die    uint16
	delivered            int // what the last reading of the shunt register held
}

func newFake() *fake {
	f := &fake{
		Wire:         chiptest.Wire{Clock: &chiptest.Clock{}, Addr: 0x40},
		slow:         1,
		shuntVolts:   func(int) float64 { return 0 },
		busVolts:     func(int) float64 { return 0 },
		manufacturer: 0x5449, die: 0x2260, // SBOS547, table 7-1
	}
	f.reset()
	return f
}

// reset does what a dip of the supply does (SBOS547, table 7-1).
func (f *fake) reset() {
	f.config, f.cal, f.mask, f.limit = 0x4127, 0, 0, 0
	f.shunt, f.bus, f.current, f.power = 0, 0, 0, 0
	f.ready, f.alert, f.overflow = false, false, false
	f.begin(f.Clock.Now())
}

// begin starts a conversion of what the mode asks for.
func (f *fake) begin(at time.Duration) {
	times := [...]float64{140, 204, 332, 588, 1100, 2116, 4156, 8244}
	var us float64
	if f.config&1 != 0 {
		us += times[f.config>>3&7]
	}
	if f.config&2 != 0 {
		us += times[f.config>>6&7]
	}
	f.busy = us > 0
	us *= [...]float64{1, 4, 16, 64, 128, 256, 512, 1024}[f.config>>9&7]
	f.start, f.end = at, at+time.Duration(us*f.slow*1000)
}

// elapse ends every conversion that is over by now.
func (f *fake) elapse() {
	for f.busy && !f.stuck && f.Clock.Now() >= f.end {
		f.done++
		f.doneStart, f.doneEnd = f.start, f.end
		f.convert()
		f.busy = false
		if f.config&4 != 0 {
			f.begin(f.end)
		}
	}
}

func (f *fake) convert() {
	if f.config&1 != 0 {
		f.shunt = int16(max(-32768, min(32767, math.Round(f.shuntVolts(f.done)/2.5e-6))))
	}
	if f.config&2 != 0 {
		f.bus = uint16(max(0, min(32767, math.Round(f.busVolts(f.done)/1.25e-3))))
	}
	current := int64(f.shunt) * int64(f.cal) / 2048
	f.overflow = current > 32767 || current < -32768
	f.current = int16(max(-32768, min(32767, current)))
	f.power = uint16(math.Abs(float64(f.current)) * float64(f.bus) / 20000)
	f.ready = true
	over := f.mask&0x8000 != 0 && f.shunt > int16(f.limit) ||
		f.mask&0xE000 == 0x2000 && f.bus > f.limit
	f.alert = over || f.alert && f.mask&1 != 0
}

func (f *fake) Tx(addr uint16, w, r []byte) error {
	if err := f.Carry(addr, w, r); err != nil {
		return err
	}
	f.elapse()
	if len(w) > 0 {
		f.pointer = w[0]
	}
	if len(w) == 3 {
		f.write(uint16(w[1])<<8 | uint16(w[2]))
	}
	if len(r) == 2 {
		v := f.read()
		r[0], r[1] = byte(v>>8), byte(v)
	}
	return nil
}

func (f *fake) write(v uint16) {
	switch f.pointer {
	case 0:
		if v&0x8000 != 0 {
			f.reset()
			return
		}
		f.config = v&0x0FFF | 0x4000
		if v&3 != 0 {
			f.ready = false
		}
		f.begin(f.Clock.Now())
	case 5:
		f.cal = v & 0x7FFF
	case 6:
		f.mask = v & 0xFC03
		f.alert = f.alert && v&1 != 0
	case 7:
		f.limit = v
	}
}

func (f *fake) read() uint16 {
	switch f.pointer {
	case 0:
		return f.config
	case 1:
		f.delivered = f.done
		return uint16(f.shunt)
	case 2:
		return f.bus
	case 3:
		return f.power
	case 4:
		return uint16(f.current)
	case 5:
		return f.cal
	case 6:
		return f.status()
	case 7:
		return f.limit
	case 0xFE:
		return f.manufacturer
	case 0xFF:
		return f.die
	}
	return 0
}

// status is the Mask/Enable register; reading it has effects.
func (f *fake) status() uint16 {
	v := f.mask
	if f.alert {
		v |= 0x0010
	}
	if f.ready {
		v |= 0x0008
	}
	if f.overflow {
		v |= 0x0004
	}
	f.ready = false
	if f.mask&1 != 0 {
		f.alert = false
	}
	return v
}

// pin is the host's pin at the open-drain ALERT.
type pin struct {
	gpio.PinIn
	chip *fake
	pull gpio.Pull
	fail error
}

func (p *pin) String() string { return "ALERT" }

func (p *pin) In(pull gpio.Pull, _ gpio.Edge) error {
	p.pull = pull
	return p.fail
}

func (p *pin) Read() gpio.Level {
	p.chip.elapse()
	return gpio.Level(!p.chip.alert)
}

func openOn(t testing.TB, f *fake, o Opts) *Dev {
	t.Helper()
	d, err := New(f, f.Clock, o)
	require.NoError(t, err)
	return d
}

func open(t testing.TB) (*Dev, *fake) {
	t.Helper()
	f := newFake()
	return openOn(t, f, DefaultOpts()), f
}

func steady(v float64) func(int) float64 { return func(int) float64 { return v } }
