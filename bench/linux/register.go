package linux

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2creg"
)

// Register puts the buses and lines of this computer into periph's registries,
// in the place of what host.Init or another Computer has registered for the same
// devices. Call it after host.Init; calling it again is harmless. What is open
// stays open, whoever registered it.
//
// A bus that cannot be opened now is registered all the same: opening it later
// tells why it cannot be. A chip that cannot be opened tells no lines; FindLine
// says why. The error joins everything that a registry refused.
func (c *Computer) Register() error {
	var all error
	buses := c.Buses()
	for _, b := range buses {
		all = errors.Join(all, c.registerBus(b, buses))
	}
	chips := c.Chips()
	for i := range chips {
		for _, l := range chips[i].Lines {
			all = errors.Join(all, c.registerLine(spot{&chips[i], l}, chips))
		}
	}
	for _, n := range c.numbered(chips) {
		all = errors.Join(all, c.registerNumbers(n, chips))
	}
	return all
}

// registerBus puts one bus into i2creg. Its entry leads to this computer's
// OpenBus, by number: the adapter behind a name may change.
func (c *Computer) registerBus(b BusInfo, all []BusInfo) error {
	name := "/dev/i2c-" + strconv.Itoa(b.Number) // periph's name, sysfs/i2c.go, Init
	for _, r := range i2creg.All() {
		if r.Name == name || r.Number == b.Number {
			if err := i2creg.Unregister(r.Name); err != nil {
				return fmt.Errorf("bus %d: take out what stands for it: %w", b.Number, err)
			}
		}
	}
	aliases := []string{"I2C" + strconv.Itoa(b.Number)}
	if aliasable(b, all) {
		aliases = append(aliases, b.Name)
	}
	open := func() (i2c.BusCloser, error) {
		bus, err := c.OpenBus(strconv.Itoa(b.Number))
		if err != nil {
			return nil, err
		}
		return bus, nil
	}
	if err := i2creg.Register(name, aliases, b.Number, open); err != nil {
		return fmt.Errorf("bus %d: register: %w", b.Number, err)
	}
	return nil
}

// aliasable tells whether the name of an adapter can be an alias: i2creg takes
// no colon, no bare number, no name twice (i2creg/i2creg.go, Register of periph
// conn v3.7.3).
func aliasable(b BusInfo, all []BusInfo) bool {
	if b.Name == "" || digits(strings.TrimLeft(b.Name, "+-")) || strings.Contains(b.Name, ":") {
		return false
	}
	for _, o := range all {
		if o.Number != b.Number && o.Name == b.Name {
			return false
		}
	}
	for _, r := range i2creg.All() {
		if r.Name == b.Name {
			return false
		}
		for _, a := range r.Aliases {
			if a == b.Name {
				return false
			}
		}
	}
	return true
}

// registerLine puts one line into gpioreg under its place, with its other names
// as aliases.
func (c *Computer) registerLine(s spot, chips []ChipInfo) error {
	l := c.line(s)
	if err := put(l); err != nil {
		return err
	}
	if label := s.chip.Label; label != "" && label != s.chip.Name && chipsCalled(chips, label) == 1 {
		if err := alias(label+":"+strconv.Itoa(s.line.Offset), l.Name()); err != nil {
			return err
		}
	}
	if err := c.registerKernelName(s, chips, l); err != nil {
		return err
	}
	return registerProcessorName(s, chips, l)
}

// registerKernelName leads the kernel's name of a line to it where it is unique.
// Where it is not, periph gives it to the first line and the chip's name, a dash
// and it to the others (gpioioctl/gpio.go, Init): both are taken out.
func (c *Computer) registerKernelName(s spot, chips []ChipInfo, l *Line) error {
	name := s.line.Name
	if name == "" {
		return nil
	}
	if linesCalled(chips, name) == 1 {
		return alias(name, l.Name())
	}
	return errors.Join(takeOut(name), takeOut(s.chip.Name+"-"+name))
}

// registerProcessorName leads GPIO<offset> to a line of the processors that
// periph also drives by their memory, past the kernel (bcm283x/gpio.go: pins
// GPIO0 to GPIO46, named by their number on the processor, which is the offset
// on the chip of the kernel's pinctrl-bcm2835.c).
func registerProcessorName(s spot, chips []ChipInfo, l *Line) error {
	name := "GPIO" + strconv.Itoa(s.line.Offset)
	if !strings.HasPrefix(s.chip.Label, "pinctrl-bcm") || linesCalled(chips, name) > 0 {
		return nil
	}
	return alias(name, l.Name())
}

// chipsCalled counts the chips that a name fits.
func chipsCalled(chips []ChipInfo, name string) int {
	n := 0
	for i := range chips {
		if chips[i].is(name) {
			n++
		}
	}
	return n
}

// linesCalled counts the lines that have a name.
func linesCalled(chips []ChipInfo, name string) int {
	n := 0
	for i := range chips {
		for _, l := range chips[i].Lines {
			if l.Name == name {
				n++
			}
		}
	}
	return n
}

// put registers a line under its place, also in the place of the Line of another
// Computer: who opens a Computer gets lines that its Close releases.
func put(l *Line) error {
	old := gpioreg.ByName(l.Name())
	if old == gpio.PinIO(l) {
		return nil
	}
	if old != nil {
		if err := gpioreg.Unregister(l.Name()); err != nil {
			return fmt.Errorf("line %s: take out what stands for it: %w", l, err)
		}
	}
	if err := gpioreg.Register(l); err != nil {
		return fmt.Errorf("line %s: register: %w", l, err)
	}
	return nil
}

// alias gives a registered line one more name, in the place of another driver's
// pin or alias of that name.
func alias(name, dest string) error {
	if err := takeOut(name); err != nil {
		return err
	}
	if err := gpioreg.RegisterAlias(name, dest); err != nil {
		return fmt.Errorf("line %s: register as %s: %w", dest, name, err)
	}
	return nil
}

// takeOut removes a pin or alias, if there is one.
func takeOut(name string) error {
	if gpioreg.ByName(name) == nil {
		return nil
	}
	if err := gpioreg.Unregister(name); err != nil {
		return fmt.Errorf("line %s: take out what stands for it: %w", name, err)
	}
	return nil
}
