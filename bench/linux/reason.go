package linux

import (
	"errors"
	"fmt"

	"golang.org/x/sys/unix"
)

// Kind is what stands in the way.
type Kind string

// What can stand in the way of a device.
const (
	Permission Kind = "permission" // the user may not open it
	Absent     Kind = "absent"     // it is not there
	Busy       Kind = "busy"       // somebody else holds it
	Ambiguous  Kind = "ambiguous"  // the reference fits several
	Unfit      Kind = "unfit"      // it is there and cannot do the job
	Trouble    Kind = "trouble"    // the kernel says something else
)

// Reason is why a thing cannot be used. It is the error of what opens and finds
// things, and stands in lists beside what could not be opened.
type Reason struct {
	Kind  Kind
	Thing string // "bus 1", "/dev/gpiochip0", "line lid"
	// Holder is who holds a busy line, by the name that it gave itself; empty
	// where it gave none.
	Holder string
	// Hint is the next step of a person, a full sentence.
	Hint string
	// Err is the cause: an errno of the kernel or a sentinel of this package.
	Err error
}

func (r *Reason) Error() string { return r.Thing + ": " + r.Err.Error() }

// Unwrap gives the cause to errors.Is and errors.As.
func (r *Reason) Unwrap() error { return r.Err }

// reason explains what opening the device at path came to. It is nil when err
// is nil.
func (c *Computer) reason(path string, err error) *Reason {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, unix.EACCES), errors.Is(err, unix.EPERM):
		return c.denied(path, err)
	case errors.Is(err, unix.ENOENT), errors.Is(err, unix.ENXIO), errors.Is(err, unix.ENODEV):
		return &Reason{Kind: Absent, Thing: path, Hint: c.absentHint(path), Err: fmt.Errorf("open: %w", err)}
	}
	return &Reason{Kind: Trouble, Thing: path, Hint: "Look at the kernel's messages.", Err: fmt.Errorf("open: %w", err)}
}

// denied explains a refusal by who owns the device. periph names the group
// plugdev whatever the device's group is (sysfs/i2c.go, newI2C).
func (c *Computer) denied(path string, err error) *Reason {
	r := &Reason{Kind: Permission, Thing: path, Err: fmt.Errorf("open: %w", err),
		Hint: "Run as a user who may open it."}
	var s unix.Stat_t
	if serr := unix.Stat(path, &s); serr != nil {
		return r
	}
	o := owner{group: groupName(s.Gid), gid: int(s.Gid), mode: uint32(s.Mode)}
	var why string
	why, r.Hint = o.explain(path, present())
	r.Err = fmt.Errorf("open: %w: %s", err, why)
	return r
}
