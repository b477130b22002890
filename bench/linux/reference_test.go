package linux

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestReferencesToLinesAreRead(t *testing.T) {
	for ref, want := range map[string]LineRef{
		"gpiochip0:5":               {Chip: "gpiochip0", Offset: 5, Name: "gpiochip0:5"},
		"/dev/gpiochip0:5":          {Chip: "gpiochip0", Offset: 5, Name: "/dev/gpiochip0:5"},
		"cp2112_gpio:07":            {Chip: "cp2112_gpio", Offset: 7, Name: "cp2112_gpio:07"},
		"fe200000.gpio:26":          {Chip: "fe200000.gpio", Offset: 26, Name: "fe200000.gpio:26"},
		"pci:0000:00:1f.0:3":        {Chip: "pci:0000:00:1f.0", Offset: 3, Name: "pci:0000:00:1f.0:3"},
		"GPIO17":                    {Name: "GPIO17"},
		"a name with spaces":        {Name: "a name with spaces"},
		"SPI0:MOSI":                 {Name: "SPI0:MOSI"},
		"gpiochip0:-1":              {Name: "gpiochip0:-1"},
		"gpiochip0:":                {Name: "gpiochip0:"},
		"chip:" + strconv.Itoa(1e4): {Chip: "chip", Offset: 1e4, Name: "chip:10000"},
	} {
		got, err := ParseLine(ref)
		require.NoError(t, err, ref)
		require.Equal(t, want, got)
	}
}

func TestReferencesThatMeanNothingAreRefused(t *testing.T) {
	for _, ref := range []string{"", " ", " GPIO17", "GPIO17\n", ":5", "chip :5", "chip:65536", "chip:99999999999999999999"} {
		_, err := ParseLine(ref)
		require.ErrorIs(t, err, ErrReference, "line %q", ref)
	}
	for _, ref := range []string{"", " 1", "1\n", "1048576", "99999999999999999999"} {
		_, err := ParseBus(ref)
		require.ErrorIs(t, err, ErrReference, "bus %q", ref)
	}
}

func TestReferencesToBusesAreRead(t *testing.T) {
	for ref, want := range map[string]BusRef{
		"1":                             {Number: 1},
		"i2c-12":                        {Number: 12},
		"/dev/i2c-0":                    {Number: 0},
		"1048575":                       {Number: 1<<20 - 1},
		"bcm2835 (i2c@7e804000)":        {Number: -1, Name: "bcm2835 (i2c@7e804000)"},
		"i2c-tiny-usb at bus 001 dev 2": {Number: -1, Name: "i2c-tiny-usb at bus 001 dev 2"},
		"-1":                            {Number: -1, Name: "-1"},
	} {
		got, err := ParseBus(ref)
		require.NoError(t, err, ref)
		require.Equal(t, want, got)
	}
}

// TestAReferenceReadsBackAsItIsWritten: what String gives means the same thing.
func TestAReferenceReadsBackAsItIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		chip := rapid.StringMatching(`[a-z][a-z0-9_.:]{0,20}[a-z]`).Draw(t, "chip")
		offset := rapid.IntRange(0, offsetMax).Draw(t, "offset")
		r, err := ParseLine(chip + ":" + strconv.Itoa(offset))
		require.NoError(t, err)
		require.Equal(t, chip, r.Chip)
		require.Equal(t, offset, r.Offset)
		again, err := ParseLine(r.String())
		require.NoError(t, err)
		require.Equal(t, r, again)
	})
}

func FuzzReference(f *testing.F) {
	for _, s := range []string{"1", "/dev/i2c-1", "i2c-", "gpiochip0:5", "/dev/gpiochip0:5", "a:b:7", ":", "::1", "/dev/:1", "\x00:1", "chip:00000000000000000001", "/dev/ :0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, ref string) {
		line, err := ParseLine(ref)
		if err == nil {
			require.Equal(t, ref, line.Name)
			require.LessOrEqual(t, line.Offset, offsetMax)
			again, err := ParseLine(line.String())
			require.NoError(t, err)
			require.Equal(t, line.Offset, again.Offset)
			require.Equal(t, line.Chip, again.Chip)
		}
		bus, err := ParseBus(ref)
		if err == nil {
			again, err := ParseBus(bus.String())
			require.NoError(t, err)
			require.Equal(t, bus, again)
			require.Equal(t, bus.Number < 0, !digits(strings.TrimPrefix(strings.TrimPrefix(ref, "/dev/"), "i2c-")))
		}
	})
}
