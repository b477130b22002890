package linux

import (
	"path/filepath"
	"strings"
)

// absentHint is the usual cause of a missing device, and the next step.
func (c *Computer) absentHint(path string) string {
	if strings.HasPrefix(filepath.Base(path), "i2c-") {
		return c.absentBus()
	}
	if strings.HasPrefix(filepath.Base(path), "gpiochip") {
		return c.absentChip()
	}
	return "Look at the kernel's messages."
}

// absentBus tells the three ways in which a bus is missing apart: no adapter, an
// adapter without device, and another number.
func (c *Computer) absentBus() string {
	adapters := c.entries("bus/i2c/devices/i2c-*")
	devices := c.entriesOf(filepath.Join(c.opts.Dev, "i2c-*"))
	switch {
	case adapters > 0 && devices == 0:
		return "The kernel has an I2C adapter and no device for it: load the module i2c-dev, and name it in /etc/modules."
	case devices > 0:
		return "The computer has other buses: correct the bus in the wiring file, or plug the adapter in. The numbers of buses that are plugged in change; name such a bus by its adapter."
	}
	return "The kernel knows no I2C adapter: switch the controller on in the device tree, on a single-board computer with the overlay or parameter of its boot configuration (\"dtparam=i2c_arm=on\"), or plug the adapter in; then start again."
}

// absentChip does the same for chips of lines.
func (c *Computer) absentChip() string {
	chips := c.entries("bus/gpio/devices/gpiochip*")
	devices := c.entriesOf(filepath.Join(c.opts.Dev, "gpiochip*"))
	switch {
	case chips > 0 && devices == 0:
		return "The kernel has digital lines and no device for them: it was built without CONFIG_GPIO_CDEV, or the devices are hidden from this process."
	case devices > 0:
		return "The computer has other lines: correct the device of the line in the wiring file, or plug the chip in."
	}
	return "The kernel knows no digital lines: load the driver of the chip, or switch it on in the device tree with the overlay of its boot configuration, or plug it in."
}

// entries counts what of the kernel's tree fits a pattern.
func (c *Computer) entries(pattern string) int {
	return c.entriesOf(filepath.Join(c.opts.Sys, pattern))
}

func (c *Computer) entriesOf(pattern string) int {
	found, err := filepath.Glob(pattern)
	if err != nil {
		return 0
	}
	return len(found)
}
