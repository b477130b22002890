//go:build guest

package linux

import (
	"fmt"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	"periph.io/x/conn/v3/i2c/i2creg"
	"periph.io/x/host/v3"
	"periph.io/x/host/v3/sysfs"
)

// TestGuestHoldALine holds a line until its process is killed; run by itself it
// has nothing to do.
func TestGuestHoldALine(t *testing.T) {
	if os.Getenv(childVariable) != t.Name() {
		return
	}
	l := ourLine(t, guestComputer(t, Options{Consumer: "the child"}), 7)
	require.NoError(t, l.Out(gpio.Low))
	fmt.Println(holding)
	select {}
}

// TestGuestRegisterReplacesWhatPeriphRegistered: after host.Init both registries
// lead to periph's drivers, after Register to this package's.
func TestGuestRegisterReplacesWhatPeriphRegistered(t *testing.T) {
	_, err := host.Init()
	require.NoError(t, err)
	number := strconv.Itoa(guestBus(t))
	before, err := i2creg.Open(number)
	require.NoError(t, err)
	require.IsType(t, &sysfs.I2C{}, before)
	require.NoError(t, before.Close())
	pins := 0
	for _, p := range gpioreg.All() {
		if _, ok := p.(*sysfs.Pin); ok {
			pins++
		}
	}
	require.Equal(t, 8, pins, "lines without a name, by the old interface")

	c := guestComputer(t, Options{})
	require.NoError(t, c.Register())
	require.NoError(t, c.Register())
	for _, ref := range []string{number, "/dev/i2c-" + number, "I2C" + number} {
		b, err := i2creg.Open(ref)
		require.NoError(t, err)
		require.IsType(t, &Bus{}, b)
		require.NoError(t, b.Close())
	}
	for _, p := range append(gpioreg.All(), gpioreg.Aliases()...) {
		require.IsType(t, &Line{}, real(p), p.Name())
	}
	l, ok := real(gpioreg.ByName("cp2112_gpio:2")).(*Line)
	require.True(t, ok)
	require.Same(t, ourLine(t, c, 2), l)
}
