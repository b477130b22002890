package thermometer_test

import (
	"context"
	"fmt"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/chip/thermometer"
	"sinkproof/bench/quantity"
)

// A twelve-bit sensor that pulls its pin at 45 °C. The bus here replays a
// conversation; on a bench it is opened by name.
func Example() {
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: 0x4C, W: []byte{1, 0x61}}, // stop
		{Addr: 0x4C, W: []byte{1}, R: []byte{0x61, 0x00}},
		{Addr: 0x4C, W: []byte{3, 0x2D, 0x00}}, // alarm
		{Addr: 0x4C, W: []byte{3}, R: []byte{0x2D, 0x00}},
		{Addr: 0x4C, W: []byte{2, 0x28, 0x00}}, // release
		{Addr: 0x4C, W: []byte{2}, R: []byte{0x28, 0x00}},
		{Addr: 0x4C, W: []byte{1, 0x60}}, // start
		{Addr: 0x4C, W: []byte{1}, R: []byte{0x60, 0x00}},
		{Addr: 0x4C, W: []byte{0}, R: []byte{0x19, 0x40}},
	}}
	o := thermometer.DefaultOpts()
	o.Alarm, o.Release = quantity.Celsius(45), quantity.Celsius(40)
	sensor, err := thermometer.New(bus, &chiptest.Clock{}, o)
	if err != nil {
		fmt.Println(err)
		return
	}
	s, err := sensor.Read(context.Background())
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s: %.2f K\n", sensor, s.Temperature.SI)
	// Output: thermometer(4Ch): 298.40 K
}
