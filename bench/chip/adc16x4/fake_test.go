package adc16x4

import (
	"math"
	"testing"
	"time"

	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench/chip/chiptest"
)

// fake is a converter with registers, an oscillator and a conversion that runs:
// state, not a script. Its arithmetic is written anew from the data sheet
// (SBAS444D) and shares nothing with the driver.
type fake struct {
	chiptest.Wire
	config, lo, hi uint16
	result         uint16
	pointer        byte
	// running conversion: the configuration that it was started with.
	busy         bool
	taken        uint16
	start, end   time.Duration
	done         int // conversions ended
	doneStart    time.Duration
	doneEnd      time.Duration
	slow         float64 // period over nominal period
	stuck        bool    // never ends a conversion
	volts        func(mux int, n int) float64
	edges        int // at the ready pin
	readBusy     int // conversion register read during a single-shot conversion
	delivered    int // what the last reading of the conversion register held
	beforeResult func()
}

func newFake() *fake {
	return &fake{
		Wire: chiptest.Wire{Clock: &chiptest.Clock{}, Addr: 0x48},
		// Reset values (SBAS444D; thresholds from memory).
		config: 0x8583 & 0x7FFF, lo: 0x8000, hi: 0x7FFF,
		slow:  1,
		volts: func(int, int) float64 { return 0 },
	}
}

// reset does what a dip of the supply does.
func (f *fake) reset() {
	f.config, f.lo, f.hi, f.result, f.busy = 0x0583, 0x8000, 0x7FFF, 0, false
}

func (f *fake) begin(at time.Duration) {
	rate := [...]float64{8, 16, 32, 64, 128, 250, 475, 860}[f.config>>5&7]
	f.busy, f.taken, f.start = true, f.config, at
	f.end = at + time.Duration(f.slow/rate*1e9)
}

func (f *fake) single(config uint16) bool { return config&0x0100 != 0 }

// elapse ends every conversion that is over by now.
func (f *fake) elapse() {
	for f.busy && !f.stuck && f.Clock.Now() >= f.end {
		f.done++
		f.doneStart, f.doneEnd = f.start, f.end
		fsr := [...]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}[f.taken>>9&7]
		code := math.Round(f.volts(int(f.taken>>12&7), f.done) / fsr * 32768)
		f.result = uint16(int16(max(-32768, min(32767, code))))
		if f.config&3 != 3 && f.hi&0x8000 != 0 && f.lo&0x8000 == 0 {
			f.edges++
		}
		f.busy = false
		if !f.single(f.config) {
			f.begin(f.end)
		}
	}
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
	case 1:
		f.config = v & 0x7FFF
		wake := f.Clock.Now() + 25*time.Microsecond
		if !f.busy && (!f.single(v) || v&0x8000 != 0) {
			f.begin(wake)
		}
	case 2:
		f.lo = v
	case 3:
		f.hi = v
	}
}

func (f *fake) read() uint16 {
	switch f.pointer {
	case 0:
		if f.beforeResult != nil {
			f.beforeResult()
			f.elapse()
		}
		if f.busy && f.single(f.taken) {
			f.readBusy++
		}
		f.delivered = f.done
		return f.result
	case 1:
		if f.busy {
			return f.config
		}
		return f.config | 0x8000
	case 2:
		return f.lo
	}
	return f.hi
}

// pin is the host's pin at ALERT/RDY; it counts edges like a kernel's queue.
type pin struct {
	gpio.PinIn
	chip *fake
	edge gpio.Edge
	fail error
}

func (p *pin) String() string { return "READY" }

func (p *pin) In(_ gpio.Pull, e gpio.Edge) error {
	p.edge = e
	return p.fail
}

func (p *pin) WaitForEdge(timeout time.Duration) bool {
	p.chip.Clock.Advance(timeout)
	p.chip.elapse()
	if p.edge != gpio.FallingEdge || p.chip.edges == 0 {
		return false
	}
	p.chip.edges--
	return true
}

// open returns a driver on a fresh fake.
func open(t testing.TB) (*Dev, *fake) {
	t.Helper()
	f := newFake()
	return openOn(t, f, DefaultOpts()), f
}

func openOn(t testing.TB, f *fake, o Opts) *Dev {
	t.Helper()
	d, err := New(t.Context(), f, f.Clock, o)
	if err != nil {
		t.Fatal(err)
	}
	return d
}
