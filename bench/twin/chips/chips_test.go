package chips

import (
	"math/rand/v2"
	"time"
)

// level is a node that a test sets.
type level struct {
	volts func(now time.Duration) float64
}

// bench drives one chip: a clock and the circuit, which counts how often the
// chip asked to be brought up to date.
type bench struct {
	now     time.Duration
	device  Device
	reached int
}

// reach is the chip's Reach.
func (b *bench) reach(time.Duration) { b.reached++ }

// pass lets time go by.
func (b *bench) pass(d time.Duration) { b.now += d }

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

// Mean is the mean of a voltage that moves in a straight line.
func (i input) Mean(from, to time.Duration) float64 { return (i.volts(from) + i.volts(to)) / 2 }

// steady is a node at a constant voltage.
func steady(b *bench, v float64) Probe {
	return input{b, level{func(time.Duration) float64 { return v }}}
}

// ramp is a node that rises by so many volts per second from zero.
func ramp(b *bench, slope float64) Probe {
	return input{b, level{func(now time.Duration) float64 { return slope * now.Seconds() }}}
}

func dice() *rand.Rand { return rand.New(rand.NewPCG(1, 2)) }
