package linux

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"sinkproof/bench/quantity"
)

var (
	// ErrNoAnswer is the cause when nothing answers at an address.
	ErrNoAnswer = errors.New("nothing answers")
	// ErrSpeed is the cause when a program asks for a clock.
	ErrSpeed = errors.New("the clock of the bus is set by the device tree")
	// ErrSMBusOnly is the cause when an adapter cannot do plain transfers.
	ErrSMBusOnly = errors.New("the adapter does SMBus commands only")
)

// Bus is one open /dev/i2c-N.
//
// It stands in the place of periph's sysfs.I2C (periph.io/x/host v3.8.5,
// sysfs/i2c.go), which says that it is safe for concurrent use and is not (see
// rdwr), formats errors with %v so that errors.Is cannot see their errno, ignores
// how many messages were done, reports success for a transfer of nothing, and
// sets neither time-out nor retries.
//
// Bus is safe for concurrent use: transfers of one Bus follow one another.
type Bus struct {
	number   int
	path     string
	name     string // of the adapter
	clock    quantity.Quantity
	told     bool // clock is known
	deadline time.Duration
	now      func() time.Time
	kernel   kernel

	mu sync.Mutex
	fd int // -1 when closed
}

var _ i2c.BusCloser = (*Bus)(nil)

// OpenBus opens a bus by its number or by the name of its adapter. It refuses an
// adapter that cannot do plain transfers, and sets the kernel's patience and
// retries. These two belong to the adapter, not to this handle: they stay for
// whoever uses it next. The error is a *Reason.
func (c *Computer) OpenBus(ref string) (*Bus, error) {
	info, err := c.FindBus(ref)
	if err != nil {
		return nil, err
	}
	fd, err := openDevice(info.Path)
	if err != nil {
		return nil, c.reason(info.Path, err)
	}
	b := &Bus{number: info.Number, path: info.Path, name: info.Name, clock: info.Clock, told: info.ClockTold,
		deadline: c.opts.Deadline, now: c.opts.Now, kernel: c.kernel, fd: fd}
	if err := b.prepare(c.opts); err != nil {
		unix.Close(fd)
		return nil, err
	}
	return b, nil
}

// prepare looks at what the adapter can do and sets its patience.
func (b *Bus) prepare(o Options) error {
	can, err := functionality(b.kernel, b.fd)
	if err != nil {
		return &Reason{Kind: Trouble, Thing: b.String(), Hint: "Look at the kernel's messages.",
			Err: fmt.Errorf("ask what the adapter can do: %w", err)}
	}
	if can&FuncI2C == 0 {
		return &Reason{Kind: Unfit, Thing: b.String(), Hint: "Use another bus: chips of a rig need transfers that SMBus commands cannot express.",
			Err: fmt.Errorf("%w: %s", ErrSMBusOnly, can)}
	}
	tens := int((o.Timeout + 10*time.Millisecond - 1) / (10 * time.Millisecond))
	if _, err := b.kernel.count(b.fd, i2cTimeout, tens); err != nil {
		return &Reason{Kind: Trouble, Thing: b.String(), Hint: "Look at the kernel's messages.",
			Err: fmt.Errorf("set the time-out to %s: %w", o.Timeout, err)}
	}
	if _, err := b.kernel.count(b.fd, i2cRetries, o.Retries); err != nil {
		return &Reason{Kind: Trouble, Thing: b.String(), Hint: "Look at the kernel's messages.",
			Err: fmt.Errorf("set %d retries: %w", o.Retries, err)}
	}
	return nil
}

// String names the bus as the kernel does.
func (b *Bus) String() string { return fmt.Sprintf("bus %d (%s)", b.number, b.name) }

// Number is the N of /dev/i2c-N.
func (b *Bus) Number() int { return b.number }

// Adapter is the kernel's name of the adapter.
func (b *Bus) Adapter() string { return b.name }

// Tx writes w and reads r in one transfer, with a repeated start between them.
//
// Errors keep the kernel's errno for errors.Is; which one stands for a chip that
// does not answer depends on the adapter (see Probe). Others are ErrAddress,
// ErrEmpty, ErrTooLong, ErrShort, ErrOverrun, ErrGone and ErrClosed.
func (b *Bus) Tx(addr uint16, w, r []byte) error {
	if err := check(addr, w, r); err != nil {
		return fmt.Errorf("%s: address %#02x: %w", b, addr, err)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.fd < 0 {
		return fmt.Errorf("%s: %w", b, ErrClosed)
	}
	began := b.now()
	err := rdwr(b.kernel, b.fd, addr, w, r)
	if err != nil && b.gone() {
		err = fmt.Errorf("%w: %w", ErrGone, err)
	}
	if took := b.now().Sub(began); b.deadline > 0 && took > b.deadline {
		err = overrun(took, b.deadline, err)
	}
	if err != nil {
		return fmt.Errorf("%s: address %#02x: write %d and read %d bytes: %w", b, addr, len(w), len(r), err)
	}
	return nil
}

// overrun is the error of a transfer that took too long, beside what it came to.
func overrun(took, deadline time.Duration, err error) error {
	if err != nil {
		return fmt.Errorf("%w: %s, allowed are %s: %w", ErrOverrun, took, deadline, err)
	}
	return fmt.Errorf("%w: %s, allowed are %s", ErrOverrun, took, deadline)
}

// gone tells whether the device has vanished: the errno of an unplugged adapter is
// its driver's choice (EIO from i2c-tiny-usb), and may mean much else.
func (b *Bus) gone() bool {
	var s unix.Stat_t
	return errors.Is(unix.Stat(b.path, &s), unix.ENOENT)
}

// Probe tells whether a chip answers at an address, by reading one byte. That is
// a real transfer: Tx with nothing to do, which periph takes for a success
// (sysfs/i2c.go, Tx), never reaches the bus.
//
// The error is ErrNoAnswer beside the errno where the adapter says that nobody
// acknowledged: ENXIO (i2c-tiny-usb, and Documentation/i2c/fault-codes.rst),
// EREMOTEIO (i2c-bcm2835, DesignWare), ETIMEDOUT (hid-cp2112, where a stuck bus
// looks the same). Any other error is trouble with the bus.
func (b *Bus) Probe(addr uint16) error {
	err := b.Tx(addr, nil, make([]byte, 1))
	if silent(err) {
		return fmt.Errorf("%w: %w", ErrNoAnswer, err)
	}
	return err
}

// silent tells whether an error means that nobody acknowledged on a bus that is
// there.
func silent(err error) bool {
	if errors.Is(err, ErrGone) {
		return false
	}
	return errors.Is(err, unix.ENXIO) || errors.Is(err, unix.EREMOTEIO) || errors.Is(err, unix.ETIMEDOUT)
}

// SetSpeed always fails with ErrSpeed: Linux offers programs no way to set the
// clock of a bus. See Clock.
func (b *Bus) SetSpeed(f physic.Frequency) error {
	if b.told {
		return fmt.Errorf("%s: set the clock to %s: %w, to %s", b, f, ErrSpeed, b.clock)
	}
	return fmt.Errorf("%s: set the clock to %s: %w", b, f, ErrSpeed)
}

// Clock is the clock of the bus where the device tree tells it. Without a device
// tree, and where the driver chooses, it is not known.
func (b *Bus) Clock() (quantity.Quantity, bool) { return b.clock, b.told }

// Close gives the bus back, after a transfer that is under way. Closing twice is
// harmless. An adapter that was unplugged stays half there until everybody has
// closed it (i2c_del_adapter, drivers/i2c/i2c-core-base.c): only then it comes back
// under its number.
func (b *Bus) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.fd < 0 {
		return nil
	}
	err := unix.Close(b.fd)
	b.fd = -1
	if err != nil {
		return fmt.Errorf("%s: close: %w", b, err)
	}
	return nil
}
