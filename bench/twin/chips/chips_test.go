package chips

import (
	"math/rand/v2"
	"time"
)

// level is a node that a test sets.
type level struct {
	volts func(now time.Duration) float64
}

// bench drives one chip: a clock with one timer.
type bench struct {
	now    time.Duration
	at     time.Duration // when the timer is due; zero for not set
	device interface {
		Device
		Due(now time.Duration)
	}
}

// Set and Stop make the bench the chip's timer.
func (b *bench) Set(at time.Duration) { b.at = at }
func (b *bench) Stop()                { b.at = 0 }

// pass lets time go by and serves the timer.
func (b *bench) pass(d time.Duration) {
	end := b.now + d
	for b.at > 0 && b.at <= end {
		b.now, b.at = b.at, 0
		b.device.Due(b.now)
	}
	b.now = end
}

// put writes bytes, get reads the register under the pointer after writing it.
func (b *bench) put(w ...byte) { b.device.Write(b.now, w) }

func (b *bench) get(pointer byte) uint16 {
	b.put(pointer)
	var r [2]byte
	b.device.Read(b.now, r[:])
	return uint16(r[0])<<8 | uint16(r[1])
}

// input is a node of the bench.
type input struct {
	b *bench
	level
}

// Volts is the voltage now.
func (i input) Volts() float64 { return i.volts(i.b.now) }

// steady is a node at a constant voltage.
func steady(b *bench, v float64) Probe {
	return input{b, level{func(time.Duration) float64 { return v }}}
}

// ramp is a node that rises by so many volts per second from zero.
func ramp(b *bench, slope float64) Probe {
	return input{b, level{func(now time.Duration) float64 { return slope * now.Seconds() }}}
}

func dice() *rand.Rand { return rand.New(rand.NewPCG(1, 2)) }
