package linux

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

var (
	// ErrReference is the cause when a reference is empty or cannot be read.
	ErrReference = errors.New("the reference cannot be read")
	// ErrAmbiguous is the cause when a reference fits more than one thing.
	ErrAmbiguous = errors.New("the reference fits more than one")
	// ErrAbsent is the cause when the computer has nothing that fits.
	ErrAbsent = errors.New("the computer has none")
)

// LineRef is a reference to a line as it is written.
type LineRef struct {
	// Chip is the label of the chip or the name of its device; empty in a
	// reference by the name of the line.
	Chip string
	// Offset is the number of the line on the chip, where Chip is given.
	Offset int
	// Name is the whole text: the kernel's names of lines may contain colons, so
	// "SPI0:7" can be either.
	Name string
}

// offsetMax bounds the number of a line: more than the kernel gives any chip
// (a 16-bit number in every driver of Linux 6.1; from memory, no source).
const offsetMax = 65535

// ParseLine reads a reference to a line: "gpiochip0:5", "/dev/gpiochip0:5",
// "label:5" or "NAME". The error is ErrReference.
func ParseLine(ref string) (LineRef, error) {
	if strings.TrimSpace(ref) != ref || ref == "" {
		return LineRef{}, fmt.Errorf("line %q: %w: write \"label:offset\", \"gpiochipN:offset\" or the name of the line", ref, ErrReference)
	}
	r := LineRef{Name: ref}
	i := strings.LastIndexByte(ref, ':')
	if i < 0 || !digits(ref[i+1:]) {
		return r, nil
	}
	chip := ref[:i]
	if device := strings.TrimPrefix(chip, "/dev/"); strings.HasPrefix(device, "gpiochip") {
		chip = device
	}
	n, err := strconv.Atoi(ref[i+1:])
	if err != nil || n > offsetMax {
		return LineRef{}, fmt.Errorf("line %q: %w: offset between 0 and %d", ref, ErrReference, offsetMax)
	}
	if strings.TrimSpace(chip) != chip || chip == "" {
		return LineRef{}, fmt.Errorf("line %q: %w: no chip before the colon", ref, ErrReference)
	}
	r.Chip, r.Offset = chip, n
	return r, nil
}

// String gives the reference in its shortest form.
func (r LineRef) String() string {
	if r.Chip == "" {
		return r.Name
	}
	return r.Chip + ":" + strconv.Itoa(r.Offset)
}

// BusRef is a reference to a bus as it is written.
type BusRef struct {
	// Number is the N of /dev/i2c-N, -1 in a reference by name.
	Number int
	// Name is the name of the adapter, in a reference by name.
	Name string
}

// ParseBus reads a reference to a bus: "1", "i2c-1", "/dev/i2c-1" or the name of
// the adapter. The error is ErrReference.
func ParseBus(ref string) (BusRef, error) {
	if strings.TrimSpace(ref) != ref || ref == "" {
		return BusRef{}, fmt.Errorf("bus %q: %w: write its number or the name of its adapter", ref, ErrReference)
	}
	number := strings.TrimPrefix(strings.TrimPrefix(ref, "/dev/"), "i2c-")
	if !digits(number) {
		return BusRef{Number: -1, Name: ref}, nil
	}
	n, err := strconv.Atoi(number)
	if err != nil || n > busMax {
		return BusRef{}, fmt.Errorf("bus %q: %w: number between 0 and %d", ref, ErrReference, busMax)
	}
	return BusRef{Number: n}, nil
}

// busMax is the highest number of a bus: I2C_MINORS is MINORMASK + 1, 2^20
// (drivers/i2c/i2c-dev.c).
const busMax = 1<<20 - 1

// String gives the reference in its shortest form.
func (r BusRef) String() string {
	if r.Number < 0 {
		return r.Name
	}
	return strconv.Itoa(r.Number)
}

// digits tells whether a text is a number without sign.
func digits(s string) bool {
	for _, c := range []byte(s) {
		if c < '0' || c > '9' {
			return false
		}
	}
	return s != ""
}
