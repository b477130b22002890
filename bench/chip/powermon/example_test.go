package powermon_test

import (
	"context"
	"fmt"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/chip/powermon"
	"sinkproof/bench/quantity"
)

// word is a reading of a register, put a write.
func word(reg byte, v uint16) i2ctest.IO {
	return i2ctest.IO{Addr: 0x40, W: []byte{reg}, R: []byte{byte(v >> 8), byte(v)}}
}

func put(reg byte, v uint16) i2ctest.IO {
	return i2ctest.IO{Addr: 0x40, W: []byte{reg, byte(v >> 8), byte(v)}}
}

// The data sheet's example: 10 A through 2 mΩ at 11.98 V. The bus here replays
// a conversation; on a bench it is opened by name.
func Example() {
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		word(0xFE, 0x5449), word(0xFF, 0x2260), // who are you
		put(0, 0x8000), word(0, 0x4127), // reset
		put(0, 0x4120), word(0, 0x4120),
		put(5, 0x0A00), word(5, 0x0A00), // calibrate
		put(0, 0x4123), word(6, 0x0008), // convert
		word(1, 0x1F40), word(2, 0x2570), word(4, 0x2710), word(3, 0x12B8),
	}}
	o := powermon.DefaultOpts()
	o.Shunt, o.CurrentLSB = quantity.Ohms(0.002), quantity.Amperes(1e-3)
	o.Average = powermon.Average1
	mon, err := powermon.New(bus, &chiptest.Clock{}, o)
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := mon.Measure(context.Background())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: %.2f V, %.3f A, %.2f W\n", mon, r.Bus.SI, r.Current.SI, r.Power.SI)
	// Output: powermon(40h): 11.98 V, 10.000 A, 119.80 W
}
