package kernel

import (
	"context"
	"errors"
	"fmt"
	"path"
	"strconv"
	"strings"
	"time"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// World is what hangs on the lines and on the bus.
type World interface {
	Bus
	Lines
}

// Plugged is a world that is plugged into a machine.
type Plugged struct {
	Bridge  *Bridge
	Adapter *Adapter
	// Bus is the number of the I2C bus, Chip the name of the chip of lines, as
	// the machine has given them.
	Bus  int
	Chip string
	m    *Machine
}

// adapterName begins the name that the adapter's driver gives its bus.
const adapterName = "i2c-tiny-usb"

// Plug plugs a world in and waits until its devices are there.
func (m *Machine) Plug(ctx context.Context, w World) (*Plugged, error) {
	p := &Plugged{m: m}
	var err error
	if p.Bridge, err = m.PlugBridge(w); err != nil {
		return nil, err
	}
	if p.Adapter, err = m.PlugAdapter(w); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, appearing)
	defer cancel()
	for {
		bus, err := m.find(ctx, "/sys/class/i2c-dev", "name", adapterName)
		if err != nil {
			return nil, err
		}
		chips, err := m.names(ctx, "/sys/bus/gpio/devices")
		if err != nil {
			return nil, err
		}
		if bus != "" && len(chips) == 1 {
			p.Chip = chips[0]
			p.Bus, err = strconv.Atoi(strings.TrimPrefix(bus, "i2c-"))
			return p, err
		}
		if err := pause(ctx, 5*time.Millisecond); err != nil {
			return nil, fmt.Errorf("bus %q and chips %q of the world: %w", bus, chips, err)
		}
	}
}

// Unplug takes what is still there away and waits until the kernel has let go,
// which it does when no program uses it any more.
func (p *Plugged) Unplug(ctx context.Context) error {
	err := errors.Join(p.Bridge.Unplug(), p.Adapter.Unplug())
	for _, gone := range []<-chan struct{}{p.Bridge.gone, p.Adapter.gone} {
		select {
		case <-gone:
		case <-p.m.ended:
			return fmt.Errorf("unplug: the machine has ended: %w", ErrMachine)
		case <-ctx.Done():
			return fmt.Errorf("unplug: %w", ctx.Err())
		}
	}
	for {
		bus, look := p.m.find(ctx, "/sys/class/i2c-dev", "name", adapterName)
		chips, look2 := p.m.names(ctx, "/sys/bus/gpio/devices")
		if err = errors.Join(err, look, look2); err != nil || bus == "" && len(chips) == 0 {
			return err
		}
		if err := pause(ctx, 5*time.Millisecond); err != nil {
			return fmt.Errorf("bus %q and chips %q stay: %w", bus, chips, err)
		}
	}
}

// find is the entry of a folder whose file says a text; empty without.
func (m *Machine) find(ctx context.Context, folder, file, text string) (string, error) {
	names, err := m.names(ctx, folder)
	if err != nil {
		return "", err
	}
	for _, n := range names {
		// What went away meanwhile is not what is looked for.
		if said, err := m.Read(ctx, path.Join(folder, n, file)); err == nil && strings.Contains(string(said), text) {
			return n, nil
		}
	}
	return "", nil
}

// names are the entries of a folder.
func (m *Machine) names(ctx context.Context, folder string) ([]string, error) {
	text, err := m.Do(ctx, wire.Call{Do: wire.ListFolder, Path: folder})
	return strings.Fields(string(text)), err
}

// pause waits, but no longer than the context allows.
func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
