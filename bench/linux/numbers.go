package linux

import (
	"errors"
	"path/filepath"
	"strconv"
	"strings"

	"periph.io/x/conn/v3/gpio/gpioreg"
)

// numbering is one chip of the old /sys/class/gpio, which gave all lines of the
// computer one row of numbers (Documentation/ABI/obsolete/sysfs-gpio). periph
// registers a pin GPIO<number> and an alias <number> for each (sysfs/gpio.go,
// parseGPIOChip): a third way to the same line, past this package.
type numbering struct {
	base, count int
	chip        *ChipInfo // nil where it is not clear which it is
}

// numbered lists the chips of the old interface.
func (c *Computer) numbered(chips []ChipInfo) []numbering {
	dirs, err := filepath.Glob(filepath.Join(c.opts.Sys, "class/gpio/gpiochip*"))
	if err != nil {
		return nil
	}
	var all []numbering
	for _, dir := range dirs {
		base, err1 := number(filepath.Join(dir, "base"))
		count, err2 := number(filepath.Join(dir, "ngpio"))
		if err1 != nil || err2 != nil {
			continue
		}
		all = append(all, numbering{base, count, c.same(dir, count, chips)})
	}
	return all
}

// number reads a number from the kernel's tree.
func number(path string) (int, error) {
	raw, err := attribute(path)
	if err != nil {
		return 0, err
	}
	return strconv.Atoi(strings.TrimSpace(string(raw)))
}

// same finds the chip that an entry of the old interface stands for: the one of
// the same device, label and size, if there is just one.
func (c *Computer) same(dir string, count int, chips []ChipInfo) *ChipInfo {
	device, err := filepath.EvalSymlinks(filepath.Join(dir, "device"))
	if err != nil {
		return nil
	}
	label, err := attribute(filepath.Join(dir, "label"))
	if err != nil {
		return nil
	}
	var found []*ChipInfo
	for i := range chips {
		k := &chips[i]
		own, err := filepath.EvalSymlinks(filepath.Join(c.opts.Sys, "bus/gpio/devices", k.Name))
		if err == nil && filepath.Dir(own) == device && k.Label == strings.TrimSpace(string(label)) && len(k.Lines) == count {
			found = append(found, k)
		}
	}
	if len(found) != 1 {
		return nil
	}
	return found[0]
}

// registerNumbers leads periph's GPIO<number> to our lines, or takes it out where
// it is not clear which line it is; periph's alias <number> follows. A kernel's
// own name GPIO<number> goes first.
func (c *Computer) registerNumbers(n numbering, chips []ChipInfo) error {
	var all error
	for i := range n.count {
		name := "GPIO" + strconv.Itoa(n.base+i)
		if gpioreg.ByName(name) == nil || linesCalled(chips, name) == 1 {
			continue
		}
		if n.chip == nil {
			all = errors.Join(all, takeOut(name))
			continue
		}
		all = errors.Join(all, alias(name, n.chip.at(i)))
	}
	return all
}
