package linux

import (
	"errors"
	"fmt"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/gpio"
)

// bit is a level as the kernel has it.
func bit(level gpio.Level) uint64 {
	if level {
		return 1
	}
	return 0
}

// outputAt configures one line as an output whose first level is given with it
// (GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES, include/uapi/linux/gpio.h).
func outputAt(level gpio.Level) *unix.GPIOV2LineConfig {
	c := &unix.GPIOV2LineConfig{Flags: flagOutput, Num_attrs: 1}
	// The attribute is a union; its values lie where its flags do.
	c.Attrs[0] = unix.GPIOV2LineConfigAttribute{Mask: 1,
		Attr: unix.GPIOV2LineAttribute{Id: unix.GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES, Flags: bit(level)}}
	return c
}

// inputWith configures one line as an input.
func inputWith(pull gpio.Pull, edge gpio.Edge) *unix.GPIOV2LineConfig {
	flags := uint64(flagInput)
	switch pull {
	case gpio.Float:
		flags |= flagBiasDisabled
	case gpio.PullDown:
		flags |= flagPullDown
	case gpio.PullUp:
		flags |= flagPullUp
	}
	if edge == gpio.RisingEdge || edge == gpio.BothEdges {
		flags |= flagRising
	}
	if edge == gpio.FallingEdge || edge == gpio.BothEdges {
		flags |= flagFalling
	}
	return &unix.GPIOV2LineConfig{Flags: flags}
}

// unsupported is ENOTSUPP, 524, which drivers let out although it is the
// kernel's own (include/linux/errno.h).
const unsupported = unix.Errno(524)

// unbiased tells whether a chip refused a pull. ENXIO and EINVAL would also be a
// refused edge; asking again without the pull then brings the same error.
func unbiased(err error) bool {
	return errors.Is(err, unsupported) || errors.Is(err, unix.EOPNOTSUPP) || errors.Is(err, unix.EINVAL)
}

// configure requests the line, or changes the request that is there: the line
// is never given back in between.
func (l *Line) configure(config *unix.GPIOV2LineConfig) error {
	if l.fd >= 0 {
		return ask(l.computer.kernel, l.fd, gpioSetConfig, config)
	}
	chip, err := openDevice(l.path)
	if err != nil {
		return l.computer.reason(l.path, err)
	}
	defer unix.Close(chip)
	r := &unix.GPIOV2LineRequest{Config: *config, Num_lines: 1}
	r.Offsets[0] = uint32(l.offset)
	copy(r.Consumer[:consumerMax], l.computer.opts.Consumer)
	err = ask(l.computer.kernel, chip, unix.GPIO_V2_GET_LINE_IOCTL, r)
	if errors.Is(err, unix.EBUSY) {
		return l.busy(l.computer.holder(chip, l.offset), err)
	}
	if err != nil {
		return err
	}
	return l.hold(int(r.Fd))
}

// hold keeps a new request. Its reads never block: who waits, polls.
func (l *Line) hold(fd int) error {
	wake, err := unix.Eventfd(0, unix.EFD_CLOEXEC|unix.EFD_NONBLOCK)
	if err == nil {
		err = unix.SetNonblock(fd, true)
	}
	if err != nil {
		if wake >= 0 {
			unix.Close(wake)
		}
		unix.Close(fd)
		return err
	}
	unix.CloseOnExec(fd)
	l.fd, l.wake = fd, wake
	return nil
}

// busy is the error of a line that somebody else holds.
func (l *Line) busy(holder string, err error) *Reason {
	r := &Reason{Kind: Busy, Thing: "line " + l.String(), Holder: holder,
		Hint: "End the program that holds the line, or unload the driver that does.",
		Err:  fmt.Errorf("somebody who gave no name holds it: %w", err)}
	if holder != "" {
		r.Err = fmt.Errorf("%q holds it: %w", holder, err)
	}
	return r
}

// trouble names the line in an error that is no Reason yet.
func (l *Line) trouble(doing string, err error) error {
	var r *Reason
	if errors.As(err, &r) {
		return r
	}
	return fmt.Errorf("line %s: %s: %w", l, doing, err)
}
