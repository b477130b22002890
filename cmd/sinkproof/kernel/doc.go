// Package kernel runs sinkproof on a real Linux kernel without a board.
//
// A Machine is an emulated computer that has booted the stock kernel of Debian
// with one program in its memory (package guest). Programs run in it as Jobs.
// Its GPIO lines and its I2C bus are real ones to everything inside: character
// devices of the kernel, served by the kernel's own drivers. What hangs on them
// is a World outside, in the process that started the machine: a Lines behind a
// Bridge (a HID device with eight GPIO lines, driver hid-cp2112) and a Bus
// behind an Adapter (a USB device with an I2C bus, driver i2c-tiny-usb). Both
// can be unplugged and plugged in again.
//
// The Echo is a world that answers what was written, for tests of the hardware
// layer. The Rig is a world with the twin of package twin on the real clock; it
// can be looked at from outside, whatever the program inside believes.
//
// The emulator is QEMU without hardware acceleration, so that the test runs
// wherever QEMU can be installed. Kernel, modules and emulator are fetched by
// .ci/kernel and never by a test.
package kernel
