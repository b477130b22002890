package linux

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sys/unix"
)

// DefaultTimeout is the kernel's patience with one transfer where Options names
// none: 100 ms. The longest transfer of a rig is a few tens of bytes, 3 ms at
// 100 kHz, and chips stretch the clock by less; the kernel's own default of 1 s
// (i2c_register_adapter, drivers/i2c/i2c-core-base.c) is longer than any
// heartbeat waits. Own choice, no source.
const DefaultTimeout = 100 * time.Millisecond

// consumerMax is the longest label of a line request: GPIO_MAX_NAME_SIZE (32)
// with its closing zero, include/uapi/linux/gpio.h.
const consumerMax = 31

// ErrOptions is the cause when Options cannot be used.
var ErrOptions = errors.New("the options cannot be used")

// Options says how a Computer opens its devices. The zero value is good.
type Options struct {
	// Consumer is the name under which lines are held, which other programs
	// see: "sinkproof" and the process number where empty, 31 bytes at most.
	Consumer string
	// Timeout is I2C_TIMEOUT, the kernel's patience with one transfer, rounded up
	// to 10 ms. 0 is DefaultTimeout. Not every adapter heeds it: hence Deadline.
	Timeout time.Duration
	// Retries is I2C_RETRIES, how often the kernel repeats a transfer that lost
	// arbitration. The default is none: a rig has one master, so a lost
	// arbitration is a fault that nobody may hide.
	Retries int
	// Deadline is the longest that one transfer may take. One that took longer
	// fails with ErrOverrun even if it returned data. 0 is no deadline.
	Deadline time.Duration
	// Dev and Sys are where the devices and the kernel's tree of them are: "/dev"
	// and "/sys" where empty.
	Dev, Sys string
	// Now is the clock that measures transfers against Deadline and the waits for
	// edges; it must be monotonic. time.Now where nil.
	Now func() time.Time
}

// withDefaults fills what is not named.
func (o Options) withDefaults() Options {
	if o.Consumer == "" {
		o.Consumer = fmt.Sprintf("sinkproof %d", unix.Getpid())
	}
	if o.Timeout == 0 {
		o.Timeout = DefaultTimeout
	}
	if o.Dev == "" {
		o.Dev = "/dev"
	}
	if o.Sys == "" {
		o.Sys = "/sys"
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return o
}

// check refuses what the kernel would cut or misunderstand.
func (o Options) check() error {
	switch {
	case len(o.Consumer) > consumerMax:
		return fmt.Errorf("consumer %q of %d bytes: %w: the kernel takes %d", o.Consumer, len(o.Consumer), ErrOptions, consumerMax)
	case o.Timeout < 0, o.Timeout > time.Hour:
		return fmt.Errorf("time-out %s: %w: between 0 and 1 h", o.Timeout, ErrOptions)
	case o.Retries < 0:
		return fmt.Errorf("%d retries: %w: none or more", o.Retries, ErrOptions)
	case o.Deadline < 0:
		return fmt.Errorf("deadline %s: %w: none or more", o.Deadline, ErrOptions)
	}
	return nil
}

// Computer is what the running kernel offers to the present user. It is safe
// for concurrent use.
type Computer struct {
	opts   Options
	kernel kernel

	mu    sync.Mutex
	lines map[place]*Line // one Line for each line of a chip
}

// place is one line of one chip.
type place struct {
	path   string
	offset int
}

// New returns the computer that runs this process. It opens nothing. The error
// is ErrOptions.
func New(o Options) (*Computer, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	return &Computer{opts: o.withDefaults(), kernel: running{}, lines: map[place]*Line{}}, nil
}
