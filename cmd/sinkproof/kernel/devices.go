package kernel

import (
	"fmt"
	"sync"
	"time"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// device is what a port's frames are for.
type device interface{ take(wire.Frame) }

// devices hands the frames of the device ports to the devices.
type devices struct {
	mu   sync.Mutex
	next uint32
	all  map[uint32]device
}

// add gives a device its id.
func (d *devices) add(x device) uint32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.all == nil {
		d.all = map[uint32]device{}
	}
	d.next++
	d.all[d.next] = x
	return d.next
}

func (d *devices) take(f wire.Frame) {
	d.mu.Lock()
	x := d.all[f.ID]
	if f.Kind == wire.Gone {
		delete(d.all, f.ID)
	}
	d.mu.Unlock()
	if x != nil {
		x.take(f)
	}
}

// listen serves the device ports. Each has a goroutine of its own: a transfer
// that hangs holds up no line.
func (m *Machine) listen() {
	for _, l := range []*link{m.hid, m.usb} {
		go func() { _ = l.serve(m.devices.take) }()
	}
}

// appearing is how long a device may take from the plug to its driver: ten
// times what slow emulation was seen to take.
const appearing = 15 * time.Second

// appears waits for a device.
func (m *Machine) appears(what string, ready, gone <-chan struct{}) error {
	late := time.NewTimer(appearing)
	defer late.Stop()
	select {
	case <-ready:
		return nil
	case <-gone:
		return fmt.Errorf("%s: the kernel took it away: %w\n%s", what, ErrMachine, m.Console())
	case <-m.ended:
		return fmt.Errorf("%s: the machine has ended: %w\n%s", what, ErrMachine, m.Console())
	case <-late.C:
		return fmt.Errorf("%s has no driver after %s: %w\n%s", what, appearing, ErrMachine, m.Console())
	}
}
