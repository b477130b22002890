// Package wire is what the emulated machine and the test outside say to each
// other over a serial port of the machine: frames of a kind, the id of what
// they concern and a body.
//
// Three ports carry frames. On the control port the host starts jobs (programs
// inside), feeds and signals them and gets their output, and makes calls (write
// a file, mount a disk). On the device ports the guest copies what its kernel
// says to a device: the events of a HID device, the packets of a USB device.
// The devices themselves live outside.
package wire
