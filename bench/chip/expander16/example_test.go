package expander16_test

import (
	"errors"
	"fmt"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"sinkproof/bench/chip/expander16"
)

// pair is a write of two registers and the reading that confirms it.
func pair(reg, a, b byte) []i2ctest.IO {
	return []i2ctest.IO{
		{Addr: 0x20, W: []byte{reg, a, b}},
		{Addr: 0x20, W: []byte{reg}, R: []byte{a, b}},
	}
}

// Two coils are energised; the pin of the second is shorted to ground. The bus
// here replays a conversation; on a bench it is opened by name.
func Example() {
	ops := []i2ctest.IO{
		{Addr: 0x20, W: []byte{0x05, 0}},
		{Addr: 0x20, W: []byte{0x0A, 0, 0}},
		{Addr: 0x20, W: []byte{0x14, 0, 0}},
	}
	for _, p := range [][3]byte{
		{0x06, 0xAA, 0x55}, {0x06, 0x55, 0xAA}, {0x06, 0, 0},
		{0x02, 0, 0}, {0x04, 0, 0}, {0x0C, 0, 0}, {0x00, 0, 0},
	} {
		ops = append(ops, pair(p[0], p[1], p[2])...)
	}
	ops = append(ops,
		i2ctest.IO{Addr: 0x20, W: []byte{0x12}, R: []byte{0, 0, 0, 0}},
		i2ctest.IO{Addr: 0x20, W: []byte{0x14, 0x03, 0}},
		i2ctest.IO{Addr: 0x20, W: []byte{0x12}, R: []byte{0x01, 0, 0x03, 0}},
	)
	coils, err := expander16.New(&i2ctest.Playback{DontPanic: true, Ops: ops}, expander16.DefaultOpts())
	if err != nil {
		fmt.Println(err)
		return
	}
	err = coils.Write(0x0003)
	fmt.Println(errors.Is(err, expander16.ErrReadback))
	fmt.Println(err)
	// Output:
	// true
	// expander16(20h): write 0003h: port reads back 0001h, wanted 0003h, pins 0002h differ
}
