package chips_test

import (
	"fmt"
	"math/rand/v2"
	"time"

	"sinkproof/bench/twin/chips"
)

// fixed is a node at a constant voltage.
type fixed float64

func (f fixed) Mean(_, _ time.Duration) float64 { return float64(f) }

// A single conversion: start it, let its time pass, read the code.
func ExampleADC() {
	adc := chips.NewADC(chips.ADCOptions{
		Inputs: [4]chips.Probe{fixed(0.918)},
		Supply: 5,
		Rand:   rand.New(rand.NewPCG(1, 1)),
	})
	adc.Write(0, []byte{1, 0xc5, 0xe3}) // input 0, ±2.048 V, 860 per second
	adc.Write(2*time.Millisecond, []byte{0})
	code := make([]byte, 2)
	adc.Read(2*time.Millisecond, code)
	fmt.Printf("% X\n", code)
	// Output: 39 60
}
