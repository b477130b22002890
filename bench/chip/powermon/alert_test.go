package powermon

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
	"sinkproof/bench/quantity"
)

// Bits SOL 15, BOL 13 and LEN 0 of Mask/Enable (from memory, INA226 data
// sheet). 0.5 A on 0.1 ohm is 50 mV, 20000 steps, 4E20h; 5.5 V is 4400 steps
// of 1.25 mV, 1130h.
func TestArmSpeaksAsTheDataSheetSays(t *testing.T) {
	d, f := open(t)
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		put(6, 0), put(7, 0x4E20), word(7, 0x4E20), put(6, 0x8001), word(6, 0x8001),
		put(6, 0), put(7, 0x1130), word(7, 0x1130), put(6, 0x2000), word(6, 0x2000),
		put(6, 0), put(7, 0), word(7, 0), put(6, 0), word(6, 0),
	}}
	d.regs = chip.NewWords(bus, at)
	got, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
	require.NoError(t, err)
	require.InDelta(t, 0.5, got.SI, 1e-12)
	got, err = d.ArmOverVoltage(quantity.Volts(5.5), false)
	require.NoError(t, err)
	require.InDelta(t, 5.5, got.SI, 1e-12)
	require.NoError(t, d.Disarm())
	require.NoError(t, bus.Close())
	require.Zero(t, f.mask)
}

func TestLimitsNeverTripLate(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d, f := open(t)
		amperes := rapid.Float64Range(25e-6, 0.819).Draw(rt, "amperes")
		got, err := d.ArmOverCurrent(quantity.Amperes(amperes), true)
		require.NoError(rt, err)
		require.LessOrEqual(rt, got.SI, amperes*(1+1e-9))
		require.Greater(rt, got.SI, amperes-25e-6)
		require.Equal(rt, uint16(0x8001), f.mask)
		volts := rapid.Float64Range(1.25e-3, 36).Draw(rt, "volts")
		got, err = d.ArmOverVoltage(quantity.Volts(volts), false)
		require.NoError(rt, err)
		require.LessOrEqual(rt, got.SI, volts*(1+1e-9))
		require.Greater(rt, got.SI, volts-1.25e-3)
		require.Equal(rt, uint16(0x2000), f.mask)
	})
}

func TestArmRefusesLimitsThatMeanNothing(t *testing.T) {
	d, _ := open(t)
	cut := &chiptest.Cut{How: chiptest.Dead}
	d.regs = chip.NewWords(cut, at)
	for _, q := range []quantity.Quantity{
		quantity.Amperes(0), quantity.Amperes(-0.1), quantity.Amperes(0.82),
		quantity.Amperes(0.819175), // 7FFFh, which nothing can exceed
		quantity.Amperes(math.NaN()), quantity.Amperes(math.Inf(1)), quantity.Volts(0.5),
	} {
		_, err := d.ArmOverCurrent(q, true)
		require.ErrorIs(t, err, ErrSetting, "%v", q)
	}
	for _, q := range []quantity.Quantity{
		quantity.Volts(0), quantity.Volts(36.01), quantity.Volts(math.NaN()), quantity.Amperes(5),
	} {
		_, err := d.ArmOverVoltage(q, true)
		require.ErrorIs(t, err, ErrSetting, "%v", q)
	}
	require.Zero(t, cut.Count, "refused before the old limit is given up")
}

// surge is a chip at 0.1 A and 5 V except at its fifth conversion.
func surge(t *testing.T, withPin bool) (*Dev, *fake) {
	t.Helper()
	f := newFake()
	o := DefaultOpts()
	o.Average = Average1
	if withPin {
		o.Alert = &pin{chip: f}
	}
	d := openOn(t, f, o)
	f.done = 0
	f.shuntVolts = func(n int) float64 {
		if n == 5 {
			return 0.06
		}
		return 0.01
	}
	f.busVolts = func(n int) float64 {
		if n == 5 {
			return 5.6
		}
		return 5
	}
	return d, f
}

func TestALatchedAlertSurvivesTheWaitForAConversion(t *testing.T) {
	arm := map[string]func(*Dev) (quantity.Quantity, error){
		"current": func(d *Dev) (quantity.Quantity, error) { return d.ArmOverCurrent(quantity.Amperes(0.5), true) },
		"voltage": func(d *Dev) (quantity.Quantity, error) { return d.ArmOverVoltage(quantity.Volts(5.5), true) },
	}
	for name, arm := range arm {
		for _, withPin := range []bool{false, true} {
			t.Run(name, func(t *testing.T) {
				d, f := surge(t, withPin)
				_, err := arm(d)
				require.NoError(t, err)
				require.NoError(t, d.Start())
				for range 4 {
					_, err := d.Next(t.Context())
					require.NoError(t, err)
					tripped, err := d.Alert()
					require.NoError(t, err)
					require.False(t, tripped)
				}
				for range 3 { // reads Mask/Enable, which releases the latch
					_, err := d.Next(t.Context())
					require.NoError(t, err)
				}
				require.False(t, f.alert)
				for range 2 {
					tripped, err := d.Alert()
					require.NoError(t, err)
					require.True(t, tripped)
				}
				require.NoError(t, d.ClearAlert())
				tripped, err := d.Alert()
				require.NoError(t, err)
				require.False(t, tripped)
			})
		}
	}
}

func TestALookAtTheAlertCostsNoConversion(t *testing.T) {
	d, f := surge(t, false)
	_, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
	require.NoError(t, err)
	require.NoError(t, d.Start())
	f.Clock.Advance(3 * time.Millisecond)
	for range 2 { // the first clears the ready flag in the chip
		_, err = d.Alert()
		require.NoError(t, err)
	}
	_, err = d.Next(t.Context())
	require.NoError(t, err)
	require.Equal(t, 1, f.delivered, "the conversion seen was delivered")
}

func TestAConversionMetByTheAlertIsNotTheNextMeasurements(t *testing.T) {
	d, f := surge(t, false)
	_, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
	require.NoError(t, err)
	require.NoError(t, d.Start())
	f.Clock.Advance(3 * time.Millisecond)
	_, err = d.Alert()
	require.NoError(t, err)
	r, err := d.Measure(t.Context())
	require.NoError(t, err)
	require.Equal(t, 2, f.delivered)
	require.LessOrEqual(t, r.From, f.doneStart)
}

func TestAlertWithoutBusWhenThereIsAPin(t *testing.T) {
	d, f := surge(t, true)
	_, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
	require.NoError(t, err)
	require.NoError(t, d.Start())
	f.Clock.Advance(20 * time.Millisecond)
	cut := &chiptest.Cut{How: chiptest.Dead}
	d.regs = chip.NewWords(cut, at)
	tripped, err := d.Alert()
	require.NoError(t, err)
	require.True(t, tripped)
	require.Zero(t, cut.Count)
}

func TestAlertNoticesAChipThatWatchesNoLonger(t *testing.T) {
	d, f := surge(t, false)
	_, err := d.ArmOverCurrent(quantity.Amperes(0.5), true)
	require.NoError(t, err)
	f.reset()
	_, err = d.Alert()
	require.ErrorIs(t, err, chip.ErrLost)
	require.ErrorContains(t, err, "register 06h reads 0000h, written 8001h")
	require.NoError(t, d.Disarm())
	tripped, err := d.Alert()
	require.NoError(t, err)
	require.False(t, tripped, "nothing armed, nothing asked")
}

func TestALimitIsNotComparedUnderTheOldFunction(t *testing.T) {
	d, f := surge(t, false)
	f.shuntVolts, f.busVolts = steady(0.05), steady(5)
	_, err := d.ArmOverVoltage(quantity.Volts(30), true)
	require.NoError(t, err)
	require.NoError(t, d.Start())
	// 0.75 A is 30000 steps of shunt; as a bus limit it would be 37.5 V, and
	// 30 V as a shunt limit 0.6 A. Neither is exceeded by the right function.
	_, err = d.ArmOverCurrent(quantity.Amperes(0.75), true)
	require.NoError(t, err)
	_, err = d.ArmOverVoltage(quantity.Volts(5.5), true) // 4400 steps, 0.11 A
	require.NoError(t, err)
	_, err = d.Next(t.Context())
	require.NoError(t, err)
	tripped, err := d.Alert()
	require.NoError(t, err)
	require.False(t, tripped)
}
