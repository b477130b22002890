package kernel

import "errors"

// ErrNoAnswer is what a Bus returns when no chip acknowledges an address.
var ErrNoAnswer = errors.New("no chip acknowledges the address")

// Bus is what hangs on the machine's I2C bus.
type Bus interface {
	// Tx writes w to the chip at an address and then reads r from it. It takes
	// its time; ErrNoAnswer reaches the machine as a missing acknowledge, any
	// other error as a transfer that failed.
	Tx(addr uint16, w, r []byte) error
}

// Lines is what hangs on the machine's eight GPIO lines; bit n of a byte is
// line n.
type Lines interface {
	// Direct says which lines are outputs.
	Direct(outputs uint8)
	// Set drives the lines of a mask to levels, for as long as they are outputs.
	Set(mask, levels uint8)
	// Levels are the levels that stand on the lines.
	Levels() uint8
}
