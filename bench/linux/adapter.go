package linux

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"

	"sinkproof/bench/quantity"
)

// Functions is what an adapter can do: the I2C_FUNC_ bits of
// include/uapi/linux/i2c.h.
type Functions uint64

// FuncI2C is plain transfers, which a Bus needs. The others are for lists.
const (
	FuncI2C      Functions = 0x00000001
	funcQuick    Functions = 0x00010000
	funcByte     Functions = 0x00060000
	funcByteData Functions = 0x00180000
	funcWordData Functions = 0x00600000
)

// String says it in plain words.
func (f Functions) String() string {
	var can []string
	if f&FuncI2C != 0 {
		can = append(can, "plain I2C transfers")
	}
	if f&(funcQuick|funcByte|funcByteData|funcWordData) != 0 {
		can = append(can, "SMBus commands")
	}
	if can == nil {
		return "nothing that a rig knows"
	}
	return strings.Join(can, ", ")
}

// functionality asks an open adapter. The kernel writes an unsigned long
// (I2C_FUNCS, drivers/i2c/i2c-dev.c): 32 or 64 bits as the computer has.
func functionality(k kernel, fd int) (Functions, error) {
	word := new(uintptr)
	if err := ask(k, fd, i2cFuncs, word); err != nil {
		return 0, err
	}
	return Functions(*word), nil
}

// BusInfo is one bus of the computer as a list shows it.
type BusInfo struct {
	Number int
	Path   string
	Name   string // the kernel's name of the adapter
	// Functions is what the adapter can do; 0 where it could not be opened.
	Functions Functions
	// Clock is what the device tree says; ClockTold, that it says so.
	Clock     quantity.Quantity
	ClockTold bool
	// Reason is why the bus cannot be used; nil where it can.
	Reason *Reason
}

// Buses lists the I2C buses of the computer by number. A bus that the kernel has
// and the user cannot open stands in the list with its Reason.
func (c *Computer) Buses() []BusInfo {
	var all []BusInfo
	for _, n := range c.busNumbers() {
		b := c.busInfo(n)
		b.Functions, b.Reason = c.look(b)
		all = append(all, b)
	}
	return all
}

// busNumbers are the numbers of all buses: of the devices and of the adapters,
// for an adapter without device is what a missing i2c-dev looks like.
func (c *Computer) busNumbers() []int {
	var all []int
	for _, pattern := range []string{filepath.Join(c.opts.Dev, "i2c-*"), filepath.Join(c.opts.Sys, "bus/i2c/devices/i2c-*")} {
		// The one error of Glob is a bad pattern; these are good as long as the
		// roots have no brackets, and then the list is empty.
		found, err := filepath.Glob(pattern)
		if err != nil {
			continue
		}
		for _, path := range found {
			name := strings.TrimPrefix(filepath.Base(path), "i2c-")
			if n, err := strconv.Atoi(name); err == nil && digits(name) {
				all = append(all, n)
			}
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// busInfo is what the kernel's tree tells about a bus without opening it.
func (c *Computer) busInfo(n int) BusInfo {
	id := "i2c-" + strconv.Itoa(n)
	b := BusInfo{Number: n, Path: filepath.Join(c.opts.Dev, id)}
	for _, dir := range c.adapterDirs(id) {
		if name, err := attribute(filepath.Join(dir, "name")); err == nil && b.Name == "" {
			b.Name = strings.TrimSpace(string(name))
		}
		raw, err := attribute(filepath.Join(dir, "of_node/clock-frequency"))
		if err == nil && len(raw) == 4 && !b.ClockTold {
			// A cell of the device tree is a big-endian 32-bit number of Hz
			// (dtschema i2c-controller.yaml, clock-frequency).
			b.Clock = quantity.Quantity{SI: float64(binary.BigEndian.Uint32(raw)), Dim: quantity.Frequency}
			b.ClockTold = true
		}
	}
	return b
}

// adapterDirs are the places where the kernel tells about an adapter.
func (c *Computer) adapterDirs(id string) []string {
	return []string{
		filepath.Join(c.opts.Sys, "class/i2c-dev", id),
		filepath.Join(c.opts.Sys, "class/i2c-dev", id, "device"),
		filepath.Join(c.opts.Sys, "bus/i2c/devices", id),
	}
}

// look opens a bus to see whether it can be used.
func (c *Computer) look(b BusInfo) (Functions, *Reason) {
	fd, err := openDevice(b.Path)
	if err != nil {
		return 0, c.reason(b.Path, err)
	}
	defer unix.Close(fd)
	can, err := functionality(c.kernel, fd)
	switch {
	case err != nil:
		return 0, &Reason{Kind: Trouble, Thing: b.Path, Hint: "Look at the kernel's messages.", Err: fmt.Errorf("ask what the adapter can do: %w", err)}
	case can&FuncI2C == 0:
		return can, &Reason{Kind: Unfit, Thing: b.Path, Hint: "Use another bus.", Err: fmt.Errorf("%w: %s", ErrSMBusOnly, can)}
	}
	return can, nil
}

// FindBus finds a bus by its number or by the name of its adapter, without
// opening it. The error is a *Reason: ErrReference, ErrAbsent, ErrAmbiguous.
func (c *Computer) FindBus(ref string) (BusInfo, error) {
	r, err := ParseBus(ref)
	if err != nil {
		return BusInfo{}, &Reason{Kind: Absent, Thing: "bus " + strconv.Quote(ref), Hint: "Correct the wiring file.", Err: err}
	}
	var found []BusInfo
	for _, n := range c.busNumbers() {
		if b := c.busInfo(n); n == r.Number || (r.Number < 0 && b.Name == r.Name) {
			found = append(found, b)
		}
	}
	switch len(found) {
	case 0:
		return BusInfo{}, &Reason{Kind: Absent, Thing: "bus " + ref, Err: ErrAbsent, Hint: c.absentHint(filepath.Join(c.opts.Dev, "i2c-"))}
	case 1:
		return found[0], nil
	}
	var numbers []string
	for _, b := range found {
		numbers = append(numbers, strconv.Itoa(b.Number))
	}
	return BusInfo{}, &Reason{Kind: Ambiguous, Thing: "bus " + ref, Hint: "Name the bus by its number.",
		Err: fmt.Errorf("%w: buses %s", ErrAmbiguous, strings.Join(numbers, ", "))}
}

// The addresses that a scan asks: below and above are reserved (NXP UM10204,
// rev. 7.0, table 4).
const (
	scanFirst = 0x08
	scanLast  = 0x77
)

// Found is what a scan found at one address.
type Found struct {
	Addr uint16
	// Claimed: a driver of the kernel uses the chip, so it was not asked.
	Claimed bool
	// Err is trouble other than silence; nil for a chip that answered.
	Err error
}

// Scan asks every address from 0x08 to 0x77 with a read of one byte, and lists
// those that answer. An address that a kernel driver has claimed is listed and
// not asked. A read may have an effect on a chip that clears a register by it:
// scan no rig that is running. It ends early when ctx does, or with ErrClosed.
func (b *Bus) Scan(ctx context.Context) ([]Found, error) {
	var all []Found
	for addr := uint16(scanFirst); addr <= scanLast; addr++ {
		if err := ctx.Err(); err != nil {
			return all, fmt.Errorf("%s: scan, at address %#02x: %w", b, addr, err)
		}
		claimed, err := b.claimed(addr)
		if err != nil {
			return all, err
		}
		if claimed {
			all = append(all, Found{Addr: addr, Claimed: true})
			continue
		}
		switch err := b.Probe(addr); {
		case errors.Is(err, ErrClosed):
			return all, err
		case !errors.Is(err, ErrNoAnswer):
			all = append(all, Found{Addr: addr, Err: err})
		}
	}
	return all, nil
}

// claimed asks whether a driver of the kernel uses an address. A plain transfer
// would go through all the same: i2c-dev looks only at I2C_SLAVE
// (drivers/i2c/i2c-dev.c).
func (b *Bus) claimed(addr uint16) (bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.fd < 0 {
		return false, fmt.Errorf("%s: %w", b, ErrClosed)
	}
	_, err := b.kernel.count(b.fd, i2cSlave, int(addr))
	if errors.Is(err, unix.EBUSY) {
		return true, nil
	}
	if err != nil {
		return false, fmt.Errorf("%s: address %#02x: ask who uses it: %w", b, addr, err)
	}
	return false, nil
}
