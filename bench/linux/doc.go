// Package linux is what a Linux computer offers to a rig: its I2C buses and its
// digital lines, behind periph's interfaces.
//
// A Computer is the running kernel as the present user may use it. A Bus is one
// open /dev/i2c-N, an i2c.BusCloser. A Line is one line of a /dev/gpiochipN, a
// gpio.PinIO; nothing is asked of the kernel before its first In or Out. A
// *reference* is how a wiring file names a bus ("1", or the name of the adapter)
// or a line ("label:offset", "gpiochipN:offset", or the name that the kernel
// gives the line). A reference that fits more than one thing is refused, and the
// error lists what it fits. A Reason is why something cannot be used, with the
// next step of the person in front of it.
//
// # Why not periph's own drivers
//
// The border stays periph's: its interfaces, its registries, host.Init. What
// stands behind it here mends what periph.io/x/host v3.8.5 does wrong for a
// bench. Each reason stands at the thing that mends it, and a test in a guest
// kernel shows it with periph's driver and with this one (files *_guest_test.go,
// build tag guest). In short, of sysfs/i2c.go: a bus in several goroutines
// corrupts transfers, errors lose their errno, a short count passes, a transfer
// of nothing succeeds. Of gpioioctl/gpio.go: a first Out(High) drives Low before,
// reading an output makes it an input, a wait of -1 returns at once, a busy line
// is no EBUSY.
//
// # How host.Init, the registries and this package fit together
//
// host.Init lets periph look for its drivers and fill i2creg and gpioreg. It
// succeeds on a computer without any bus or line. Computer.Register, called after
// it, replaces every entry for a device that this package serves:
//
//   - i2creg: "/dev/i2c-N" and its alias "I2CN" open a Bus, with the name of the
//     adapter as a further alias where it is unique and allowed;
//   - gpioreg: a line is registered as "gpiochipN:offset", with "label:offset" and
//     the kernel's name for it as aliases where they are unique. Where the old
//     /sys/class/gpio still numbers the lines, periph's GPIO<number> leads to the
//     same Line.
//
// Entries of other drivers, such as USB bridges that periph drives without the
// kernel, stay as they are. A name with a colon cannot be in i2creg and a name
// that two lines share cannot be in gpioreg; OpenBus and FindLine take every
// reference and need no registry.
//
// # What no driver can do
//
// When the process ends the kernel closes its lines. Some chips then leave an
// output driven (CP2112 class bridges), some make it an input (mainline
// pinctrl-bcm2835): an output that must be safe needs a resistor, and coils need
// their hardware chain. The speed of a bus is set by the device tree: Bus.Clock
// tells it where the device tree does.
package linux
