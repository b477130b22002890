package linux

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2creg"
)

// The registries belong to the process: each test has numbers of its own and
// takes out what it leaves.

// forget takes names out of the registries when the test ends.
func forget(t *testing.T, buses, pins []string) {
	t.Cleanup(func() {
		for _, n := range buses {
			require.NoError(t, i2creg.Unregister(n))
		}
		for _, n := range pins {
			require.NoError(t, gpioreg.Unregister(n))
		}
	})
}

// otherPin is a pin of another driver.
type otherPin struct {
	gpio.PinIO
	name string
}

func (p otherPin) Name() string { return p.name }

var errForeign = errors.New("the driver of somebody else")

// foreign registers a bus as periph does after host.Init (sysfs/i2c.go).
func foreign(t *testing.T, name string, aliases []string, number int) {
	t.Helper()
	require.NoError(t, i2creg.Register(name, aliases, number, func() (i2c.BusCloser, error) { return nil, errForeign }))
}

func TestRegisteredBusesReplaceOthers(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 910, "adapter 910")
	b.bus(t, 911, "same")
	b.bus(t, 912, "same")
	b.bus(t, 913, "at bus 1:2")
	foreign(t, "/dev/i2c-910", []string{"I2C910"}, 910)
	foreign(t, "bridge-911", nil, 911)
	foreign(t, "elsewhere", nil, -1)
	c := b.computer(t)
	require.NoError(t, c.Register())
	require.NoError(t, c.Register(), "twice is harmless")
	require.NoError(t, b.computer(t).Register(), "also from another Computer")
	forget(t, []string{"/dev/i2c-910", "/dev/i2c-911", "/dev/i2c-912", "/dev/i2c-913", "elsewhere"}, nil)

	for ref, number := range map[string]int{"/dev/i2c-910": 910, "I2C910": 910, "910": 910, "adapter 910": 910, "911": 911, "912": 912, "I2C913": 913} {
		bus, err := i2creg.Open(ref)
		require.NoError(t, err, ref)
		ours, ok := bus.(*Bus)
		require.True(t, ok, "%s opens %T", ref, bus)
		require.Equal(t, number, ours.Number())
		require.NoError(t, bus.Close())
	}
	for _, ref := range []string{"same", "at bus 1:2", "bridge-911"} {
		_, err := i2creg.Open(ref)
		require.ErrorContains(t, err, "unknown bus", ref)
	}
	_, err := i2creg.Open("elsewhere")
	require.ErrorIs(t, err, errForeign, "a bus that this package does not serve stays")
}

func TestARegisteredBusThatCannotBeOpenedSaysWhy(t *testing.T) {
	b := newBoard(t)
	b.bus(t, 920, "920").can = 0 // a name that is a number is no alias
	require.NoError(t, b.computer(t).Register())
	forget(t, []string{"/dev/i2c-920"}, nil)
	bus, err := i2creg.Open("920")
	require.Nil(t, bus)
	require.ErrorIs(t, err, ErrSMBusOnly)
}

func TestRegisteredLinesReplaceOthers(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 930, "label-930", "NAME930", "both", "")
	b.chip(t, 931, "label-931", "both")
	require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, "NAME930"}))
	require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, "gpiochip930:2"}))
	require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, "label-930:2"}))
	require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, "far"}))
	require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, "both"}))
	require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, "gpiochip931-both"}))
	require.NoError(t, gpioreg.RegisterAlias("930", "NAME930"))
	first := b.computer(t)
	require.NoError(t, first.Register())
	require.NoError(t, gpioreg.ByName("gpiochip931:0").Out(gpio.High))
	c := b.computer(t)
	require.NoError(t, c.Register())
	require.NoError(t, c.Register(), "twice is harmless")
	forget(t, nil, []string{"gpiochip930:0", "gpiochip930:1", "gpiochip930:2", "gpiochip931:0", "far", "NAME930", "930",
		"label-930:0", "label-930:1", "label-930:2", "label-931:0"})

	for ref, name := range map[string]string{
		"NAME930": "gpiochip930:0", "930": "gpiochip930:0", "gpiochip930:0": "gpiochip930:0", "label-930:0": "gpiochip930:0",
		"label-930:2": "gpiochip930:2", "gpiochip930:2": "gpiochip930:2", "label-931:0": "gpiochip931:0",
	} {
		l, ok := real(gpioreg.ByName(ref)).(*Line)
		require.True(t, ok, "%s leads to %T", ref, real(gpioreg.ByName(ref)))
		require.Equal(t, name, l.Name())
		ours, err := c.FindLine(name)
		require.NoError(t, err)
		require.Same(t, ours, l, "the registry and FindLine give one Line")
	}
	require.ErrorIs(t, gpioreg.ByName("gpiochip931:0").Out(gpio.Low), unix.EBUSY, "what the first Computer has open stays open")
	require.NoError(t, first.Close())
	b.chips["gpiochip931"].wires[0].flags = 0 // as the kernel does
	require.NoError(t, gpioreg.ByName("gpiochip931:0").Out(gpio.Low))
	require.Nil(t, gpioreg.ByName("both"), "a name of two lines is no name")
	require.Nil(t, gpioreg.ByName("gpiochip931-both"))
	require.IsType(t, otherPin{}, gpioreg.ByName("far"))
}

// real is the pin behind an alias.
func real(p gpio.PinIO) gpio.PinIO {
	if r, ok := p.(gpio.RealPin); ok {
		return r.Real()
	}
	return p
}

// TestAPinThatPeriphDrivesByMemoryLeadsToItsLine: a line that the kernel calls
// something else is the pin of its offset (host v3.8.5, bcm283x/gpio.go).
func TestAPinThatPeriphDrivesByMemoryLeadsToItsLine(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 950, "pinctrl-bcm-950", "ID_SDA950", "GPIO0")
	require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, "GPIO1"}))
	require.NoError(t, gpioreg.RegisterAlias("I2C950_SCL", "GPIO1"))
	require.NoError(t, b.computer(t).Register())
	forget(t, nil, []string{"gpiochip950:0", "gpiochip950:1", "pinctrl-bcm-950:0", "pinctrl-bcm-950:1",
		"ID_SDA950", "GPIO0", "GPIO1", "I2C950_SCL"})
	for ref, name := range map[string]string{"GPIO1": "gpiochip950:1", "I2C950_SCL": "gpiochip950:1", "ID_SDA950": "gpiochip950:0",
		"GPIO0": "gpiochip950:1"} { // what the kernel calls so
		require.Equal(t, name, real(gpioreg.ByName(ref)).Name(), ref)
	}
}

// TestTheOldNumbersLeadToTheSameLines: periph registers GPIO<number> for every
// line of /sys/class/gpio, with an alias <number> (host v3.8.5, sysfs/gpio.go).
func TestTheOldNumbersLeadToTheSameLines(t *testing.T) {
	b := newBoard(t)
	b.chip(t, 940, "old", "GPIO9401", "")
	b.chip(t, 941, "old", "")
	b.chip(t, 942, "unclear", "")
	b.numbers(t, 940, "platform/a", "9400", "2", "old")
	b.numbers(t, 941, "platform/b", "9410", "1", "old")
	b.sys(t, "class/gpio/gpiochip9420/base", "9420\n")
	b.sys(t, "class/gpio/gpiochip9420/ngpio", "1\n")
	b.sys(t, "class/gpio/gpiochip9430/base", "none\n")
	for _, n := range []string{"GPIO9400", "GPIO9401", "GPIO9410", "GPIO9420"} {
		require.NoError(t, gpioreg.Register(otherPin{gpio.INVALID, n}))
	}
	require.NoError(t, gpioreg.RegisterAlias("9400", "GPIO9400"))
	c := b.computer(t)
	require.NoError(t, c.Register())
	require.NoError(t, c.Register())
	forget(t, nil, []string{"gpiochip940:0", "gpiochip940:1", "gpiochip941:0", "gpiochip942:0", "unclear:0",
		"GPIO9400", "GPIO9401", "GPIO9410", "9400"})
	for ref, name := range map[string]string{
		"GPIO9400": "gpiochip940:0", "9400": "gpiochip940:0", "GPIO9410": "gpiochip941:0",
		"GPIO9401": "gpiochip940:0", // the kernel's own name goes before a number
	} {
		require.Equal(t, name, real(gpioreg.ByName(ref)).Name(), ref)
	}
	require.Nil(t, gpioreg.ByName("GPIO9420"), "what cannot be told apart is taken out")
}

// numbers gives a chip an entry in the old interface, with the links by which the
// kernel says that both are one device.
func (b *board) numbers(t *testing.T, chip int, device, base, count, label string) {
	t.Helper()
	name := fmt.Sprintf("gpiochip%d", chip)
	own := filepath.Join(b.opts.Sys, "devices", device)
	require.NoError(t, os.MkdirAll(filepath.Join(own, name), 0o755))
	entry := "class/gpio/gpiochip" + base
	b.sys(t, entry+"/base", base+"\n")
	b.sys(t, entry+"/ngpio", count+"\n")
	b.sys(t, entry+"/label", label+"\n")
	require.NoError(t, os.Symlink(own, filepath.Join(b.opts.Sys, entry, "device")))
	link := filepath.Join(b.opts.Sys, "bus/gpio/devices", name)
	require.NoError(t, os.RemoveAll(link))
	require.NoError(t, os.Symlink(filepath.Join(own, name), link))
}
