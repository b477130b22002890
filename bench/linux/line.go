package linux

import (
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"sync"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"
)

var (
	// ErrNoPWM is the cause when a line is asked for a pulse train.
	ErrNoPWM = errors.New("a line of the kernel has no PWM")
	// ErrNotRequested is the cause when a line is read before its first In or Out.
	ErrNotRequested = errors.New("the line is neither input nor output yet")
)

// direction is what a line was requested as.
type direction uint8

const (
	unrequested direction = iota
	input
	output
)

// Line is one line of a chip, by the second version of the kernel's interface.
//
// It stands in the place of periph's gpioioctl.GPIOLine (periph.io/x/host v3.8.5,
// gpioioctl/gpio.go). There Read turns an output into an input with a pull-up,
// the first Out(High) drives Low before, WaitForEdge takes -1 for an expired
// time and 0 for ever, errors are new texts without errno, Halt is lost when it
// comes before the wait, and fields are read without their lock.
//
// A Line is not requested before its first In or Out, and held until Close. It
// may be requested again after Close. It is safe for concurrent use.
type Line struct {
	computer *Computer
	path     string // of the chip
	chip     string // the kernel's name of the chip
	label    string
	offset   int
	name     string // the kernel's name of the line, may be empty

	mu   sync.Mutex
	fd   int // of the request, -1 while there is none
	dir  direction
	pull gpio.Pull
	edge gpio.Edge
	waits
}

var _ gpio.PinIO = (*Line)(nil)

func newLine(c *Computer, s spot) *Line {
	l := &Line{computer: c, path: s.chip.Path, chip: s.chip.Name, label: s.chip.Label,
		offset: s.line.Offset, name: s.line.Name, fd: -1}
	l.left = sync.NewCond(&l.mu)
	l.wake = -1
	return l
}

// String names the line: "gpiochip0:5", with the kernel's name where it has one.
func (l *Line) String() string {
	if l.name == "" {
		return l.Name()
	}
	return l.Name() + " (" + l.name + ")"
}

// Name is the place of the line, "gpiochip0:5". The kernel's names are not
// unique: some computers have one name on several chips.
func (l *Line) Name() string { return l.chip + ":" + strconv.Itoa(l.offset) }

// Number is the offset of the line on its chip.
func (l *Line) Number() int { return l.offset }

// Chip is the device of the chip that the line is on.
func (l *Line) Chip() string { return filepath.Base(l.path) }

// Function is "IN", "OUT" or empty for a line that is not requested. It asks
// nothing of the kernel; periph's reads, and so changes the direction
// (gpioioctl/gpio.go, Func).
func (l *Line) Function() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch l.dir {
	case input:
		return string(gpio.IN)
	case output:
		return string(gpio.OUT)
	}
	return ""
}

// Out makes the line an output at a level. A line that was none gets the level
// in the same request that makes it an output, so that no other level is driven
// in between; periph requests first and sets then (gpioioctl/gpio.go, Out and
// setOut), so that an active-low relay clicks on. The error keeps the errno; for
// a busy line it is a *Reason.
func (l *Line) Out(level gpio.Level) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.dir == output {
		v := &unix.GPIOV2LineValues{Mask: 1, Bits: bit(level)}
		if err := ask(l.computer.kernel, l.fd, unix.GPIO_V2_LINE_SET_VALUES_IOCTL, v); err != nil {
			return fmt.Errorf("line %s: set %s: %w", l, level, err)
		}
		return nil
	}
	l.interrupt(false)
	if err := l.configure(outputAt(level)); err != nil {
		return l.trouble("make it an output at "+level.String(), err)
	}
	l.dir, l.pull, l.edge = output, gpio.PullNoChange, gpio.NoEdge
	return nil // old edges are forgotten by the next In
}

// In makes the line an input. Edges from before are forgotten.
//
// PullNoChange leaves the pull to the chip. Float, PullDown and PullUp are wishes:
// the kernel grants them silently where the chip has no pulls
// (gpio_set_config_with_argument_optional, drivers/gpio/gpiolib.c), so a rig has
// resistors of its own. Float is also granted here where a chip's driver refuses
// it. periph ignores Float (gpioioctl/gpio.go, getFlags).
func (l *Line) In(pull gpio.Pull, edge gpio.Edge) error {
	if pull > gpio.PullUp || edge < gpio.NoEdge || edge > gpio.BothEdges {
		return fmt.Errorf("line %s: make it an input with %s and %s: %w", l, pull, edge, ErrOptions)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.interrupt(false)
	err := l.configure(inputWith(pull, edge))
	if pull == gpio.Float && unbiased(err) {
		err = l.configure(inputWith(gpio.PullNoChange, edge))
	}
	if err != nil {
		return l.trouble("make it an input", err)
	}
	l.dir, l.pull, l.edge, l.halted = input, pull, edge, false
	return l.drain()
}

// Read is Level where there is no room for an error: Low when the line cannot be
// read. Wire and use ReadLevel where Low would be taken for good news.
func (l *Line) Read() gpio.Level {
	level, err := l.ReadLevel()
	return err == nil && level
}

// ReadLevel reads the level of the line. An output stays an output: what is read
// back is what the chip says of its pin. The error is ErrNotRequested, or keeps
// the errno: ENODEV when the chip was unplugged.
func (l *Line) ReadLevel() (gpio.Level, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.dir == unrequested {
		return gpio.Low, fmt.Errorf("line %s: read: %w", l, ErrNotRequested)
	}
	v := &unix.GPIOV2LineValues{Mask: 1}
	if err := ask(l.computer.kernel, l.fd, unix.GPIO_V2_LINE_GET_VALUES_IOCTL, v); err != nil {
		return gpio.Low, fmt.Errorf("line %s: read: %w", l, err)
	}
	return v.Bits&1 == 1, nil
}

// Pull is the pull that In asked for. The kernel does not tell whether the chip
// has one.
func (l *Line) Pull() gpio.Pull {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.pull
}

// DefaultPull is unknown to the kernel: PullNoChange.
func (l *Line) DefaultPull() gpio.Pull { return gpio.PullNoChange }

// PWM always fails with ErrNoPWM.
func (l *Line) PWM(gpio.Duty, physic.Frequency) error {
	return fmt.Errorf("line %s: %w", l, ErrNoPWM)
}

// Close ends every wait and gives the line back to the kernel. Closing twice is
// harmless. What becomes of an output is the chip's matter: see the doc of the
// package.
func (l *Line) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.interrupt(true)
	for l.waiting > 0 {
		l.left.Wait()
	}
	if l.fd < 0 {
		return nil
	}
	err := unix.Close(l.fd)
	if l.wake >= 0 {
		err = errors.Join(err, unix.Close(l.wake))
	}
	l.fd, l.wake, l.dir, l.pull, l.edge = -1, -1, unrequested, gpio.PullNoChange, gpio.NoEdge
	if err != nil {
		return fmt.Errorf("line %s: close: %w", l, err)
	}
	return nil
}
