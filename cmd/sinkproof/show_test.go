package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/linux"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// bare is a computer with the devices of a made tree; a plain file is a device
// that says no to everything.
func bare(t *testing.T, devices ...string) *linux.Computer {
	t.Helper()
	dir := t.TempDir()
	for _, d := range devices {
		require.NoError(t, os.WriteFile(filepath.Join(dir, d), nil, 0o600))
	}
	k, err := linux.New(linux.Options{Dev: dir, Sys: t.TempDir()})
	require.NoError(t, err)
	return k
}

func shown(t *testing.T, o *offer) string {
	t.Helper()
	var text strings.Builder
	require.NoError(t, o.print(&text))
	return text.String()
}

func TestShowOfAComputerWithoutAnything(t *testing.T) {
	k := bare(t)
	o, err := lookAround(context.Background(), k)
	require.NoError(t, err)
	require.NoError(t, o.outcome(), "without a rig there is nothing to judge")
	o.fit(k, shippedPapers(t).rig.Rig)
	text := shown(t, o)
	require.Contains(t, text, "no digital lines")
	require.Contains(t, text, "no I2C bus")
	require.Equal(t, 2, strings.Count(text, "overlay"), "each next step is said once: %s", text)
	require.Contains(t, text, "its bus cannot be used")
	require.NotContains(t, text, "\nok")
	require.Equal(t, exitNoJudge, codeOf(t, o.outcome()))
}

func TestShowOfDevicesThatCannotBeUsed(t *testing.T) {
	o, err := lookAround(context.Background(), bare(t, "gpiochip0", "i2c-1"))
	require.NoError(t, err)
	require.Len(t, o.Chips, 1)
	require.NotNil(t, o.Chips[0].Problem)
	require.Len(t, o.Buses, 1)
	require.NotNil(t, o.Buses[0].Problem)
	require.Contains(t, shown(t, o), "cannot be used")
}

// TestShowFitsChipsToWhatAnswers: every way in which a chip can be missing has
// its own words.
func TestShowFitsChipsToWhatAnswers(t *testing.T) {
	chip := wiring.Chip{Name: "adc1", Address: 0x48, Bus: "main"}
	for name, c := range map[string]struct {
		bus  *offeredBus
		want string
	}{
		"answers":    {&offeredBus{Asked: true, Answers: []answering{{Address: "0x48"}}}, ""},
		"silent":     {&offeredBus{Asked: true, Answers: []answering{{Address: "0x49"}}}, "nothing answers at 0x48"},
		"claimed":    {&offeredBus{Asked: true, Answers: []answering{{Address: "0x48", Claimed: true}}}, "driver of the kernel"},
		"trouble":    {&offeredBus{Asked: true, Answers: []answering{{Address: "0x48", Trouble: "lost arbitration"}}}, "lost arbitration"},
		"running":    {&offeredBus{}, "a run holds the rig"},
		"no bus":     {nil, "its bus cannot be used"},
		"broken bus": {&offeredBus{Problem: &problem{}}, "its bus cannot be used"},
	} {
		t.Run(name, func(t *testing.T) {
			f := fitChip(chip, c.bus)
			if c.want == "" {
				require.Nil(t, f.Problem)
				require.Equal(t, "answers", f.Found)
				return
			}
			require.Contains(t, f.Problem.What, c.want)
			require.NotEmpty(t, f.Problem.Next)
		})
	}
}

func TestShowTellsOfABusAtAnotherClock(t *testing.T) {
	dev, sys := t.TempDir(), t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dev, "i2c-1"), nil, 0o600))
	o := &offer{Fits: true, Buses: []offeredBus{{Number: 1, Clock: "100 kHz", clock: hertz(100e3), Asked: true}}}
	k, err := linux.New(linux.Options{Dev: dev, Sys: sys})
	require.NoError(t, err)
	f, bus := o.fitBus(k, wiring.Bus{Name: "main", Device: "1", Frequency: hertz(400e3)})
	require.NotNil(t, bus)
	require.Contains(t, f.Problem.What, "it runs at 100 kHz, the wiring file says 400 kHz")
	f, _ = o.fitBus(k, wiring.Bus{Name: "main", Device: "1", Frequency: hertz(104e3)})
	require.Nil(t, f.Problem, "the divider of an adapter rounds")
}

func hertz(f float64) quantity.Quantity { return quantity.Quantity{SI: f, Dim: quantity.Frequency} }

func TestShowRefusesARigInUse(t *testing.T) {
	o := &offer{Rig: "r", Fits: true}
	o.add(fit{Kind: "line", Problem: &problem{Kind: string(linux.Busy), What: "held by sinkproof run 12"}})
	require.Equal(t, exitRefused, codeOf(t, o.outcome()))
	o.add(fit{Kind: "line", Problem: &problem{Kind: string(linux.Absent)}})
	require.Equal(t, exitNoJudge, codeOf(t, o.outcome()))
}

// codeOf is the exit code that an error ends with.
func codeOf(t *testing.T, err error) int {
	t.Helper()
	var o *outcome
	require.True(t, errors.As(err, &o), "%v", err)
	return o.code
}

// TestShowFitsEveryNest: the lines, buses and chips of all nests are looked for,
// and a chip goes by its nest.
func TestShowFitsEveryNest(t *testing.T) {
	k := bare(t)
	o, err := lookAround(context.Background(), k)
	require.NoError(t, err)
	o.fit(k, nestPapers(t).rig.Rig)
	kinds := map[string]int{}
	for _, f := range o.Fit {
		kinds[f.Kind]++
	}
	require.Equal(t, map[string]int{"line": 22, "bus": 4, "chip": 40}, kinds)
	require.Contains(t, shown(t, o), "nest-3/meter2")
}
