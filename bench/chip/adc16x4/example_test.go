package adc16x4_test

import (
	"context"
	"fmt"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"sinkproof/bench/chip/adc16x4"
	"sinkproof/bench/chip/chiptest"
)

// One conversion of the first input at ±2.048 V. The bus here replays a
// conversation; on a bench it is opened by name.
func Example() {
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: 0x48, W: []byte{1, 0x05, 0x83}}, // stop
		{Addr: 0x48, W: []byte{1}, R: []byte{0x85, 0x83}},
		{Addr: 0x48, W: []byte{1, 0x2B, 0x55}}, // prove
		{Addr: 0x48, W: []byte{1}, R: []byte{0xAB, 0x55}},
		{Addr: 0x48, W: []byte{1, 0x55, 0xAA}},
		{Addr: 0x48, W: []byte{1}, R: []byte{0xD5, 0xAA}},
		{Addr: 0x48, W: []byte{1, 0x05, 0x83}},
		{Addr: 0x48, W: []byte{1}, R: []byte{0x85, 0x83}},
		{Addr: 0x48, W: []byte{1, 0xC5, 0x83}},            // start
		{Addr: 0x48, W: []byte{1}, R: []byte{0xC5, 0x83}}, // ready
		{Addr: 0x48, W: []byte{0}, R: []byte{0x1A, 0x15}},
	}}
	ctx := context.Background()
	adc, err := adc16x4.New(ctx, bus, &chiptest.Clock{}, adc16x4.DefaultOpts())
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := adc.Convert(ctx, adc16x4.AIN0, adc16x4.FS2048)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s of %s: code %d, %.4f V\n", s.Input, adc, s.Code, s.Volts.SI)
	// Output: AIN0 of adc16x4(48h): code 6677, 0.4173 V
}
