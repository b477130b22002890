package chips_test

import (
	"fmt"
	"math/rand/v2"
	"time"

	"sinkproof/bench/twin/chips"
)

// fixed is a node at a constant voltage.
type fixed float64

func (f fixed) Volts() float64 { return float64(f) }

// when is a timer that remembers the instant.
type when struct{ at time.Duration }

func (w *when) Set(at time.Duration) { w.at = at }
func (w *when) Stop()                { w.at = 0 }

// A single conversion: start it, let its timer act, read the code.
func ExampleADC() {
	timer := &when{}
	adc := chips.NewADC(chips.ADCOptions{
		Inputs: [4]chips.Probe{fixed(0.918)},
		Supply: 5,
		Rand:   rand.New(rand.NewPCG(1, 1)),
		Timer:  timer,
	})
	adc.Write(0, []byte{1, 0xc5, 0xe3}) // input 0, ±2.048 V, 860 per second
	adc.Due(timer.at)
	adc.Write(2*time.Millisecond, []byte{0})
	code := make([]byte, 2)
	adc.Read(2*time.Millisecond, code)
	fmt.Printf("% X\n", code)
	// Output: 39 60
}
