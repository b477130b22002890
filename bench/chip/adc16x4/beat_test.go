package adc16x4

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// readings counts what Next reads of the conversion register.
func readings(f *fake) *int {
	n := 0
	f.beforeResult = func() { n++ }
	return &n
}

// Once the oscillator is known, one look finds one conversion: at every rate
// that the bus can follow and over the whole spread of the data sheet.
func TestNextLooksOncePerConversion(t *testing.T) {
	for rate := SPS8; rate <= SPS860; rate++ {
		for _, slow := range []float64{1 / 1.1, 0.97, 1, 1.04, 1 / 0.9} {
			d, f := open(t)
			f.slow, f.volts = slow, signals()["ramp"]
			require.NoError(t, d.Start(t.Context(), AIN0, FS2048, rate))
			for range 60 {
				_, err := d.Next(t.Context())
				require.NoError(t, err)
			}
			looks, before := readings(f), f.delivered
			for range 200 {
				_, err := d.Next(t.Context())
				require.NoError(t, err)
			}
			require.LessOrEqual(t, *looks, 224, "%s, oscillator %.3f", rate, slow)
			require.Equal(t, before+200, f.delivered, "%s, oscillator %.3f: skipped", rate, slow)
			p, ok := d.oscillator.known(rate)
			require.True(t, ok)
			actual := time.Duration(slow * float64(rate.Period()))
			require.LessOrEqual(t, p.least, actual, "%s, oscillator %.3f", rate, slow)
			require.GreaterOrEqual(t, p.most, actual, "%s, oscillator %.3f", rate, slow)
			require.Less(t, p.width(), rate.Period()/80, "%s, oscillator %.3f", rate, slow)
		}
	}
}

// learned returns a driver that knows the oscillator of its chip at 860 SPS.
func learned(t *testing.T, slow float64) (*Dev, *fake) {
	d, f := open(t)
	f.slow, f.volts = slow, signals()["ramp"]
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
	for range 60 {
		_, err := d.Next(t.Context())
		require.NoError(t, err)
	}
	return d, f
}

// A single conversion at a known rate costs one look at the ready bit.
func TestConvertLooksOnceWhenTheOscillatorIsKnown(t *testing.T) {
	d, f := learned(t, 1.05)
	_, err := d.ConvertAt(t.Context(), AIN0, FS2048, SPS860)
	require.NoError(t, err)
	before := f.Carried
	_, err = d.ConvertAt(t.Context(), AIN0, FS2048, SPS860)
	require.NoError(t, err)
	require.Equal(t, 3, f.Carried-before, "start, ready bit, result")
}

// An oscillator that wanders within its bounds is followed: of a signal that
// moves no conversion is delivered twice.
func TestNextFollowsAnOscillatorThatWanders(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		d, f := open(t)
		f.volts = signals()["ramp"]
		f.slow = rapid.Float64Range(0.93, 1.07).Draw(rt, "period factor")
		require.NoError(rt, d.Start(t.Context(), AIN0, FS2048, SPS860))
		for range rapid.IntRange(1, 300).Draw(rt, "conversions") {
			last := f.delivered
			s, err := d.Next(t.Context())
			require.NoError(rt, err)
			require.Greater(rt, f.delivered, last, "the same conversion twice")
			require.LessOrEqual(rt, s.From, f.doneStart)
			require.GreaterOrEqual(rt, s.At, f.doneEnd)
			f.slow += rapid.Float64Range(-1e-5, 1e-5).Draw(rt, "wander")
		}
	})
}

// One that jumps by some percent, as no oscillator does, is learned anew.
func TestNextLearnsAnOscillatorThatJumps(t *testing.T) {
	for _, to := range []float64{0.92, 0.95, 0.98, 1.02, 1.05, 1.08} {
		d, f := open(t)
		f.volts = signals()["ramp"]
		require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
		next := func(n int) {
			for range n {
				_, err := d.Next(t.Context())
				require.NoError(t, err)
			}
		}
		next(300)
		f.slow = to
		next(16 * stretch)
		p, ok := d.oscillator.known(SPS860)
		require.True(t, ok)
		actual := time.Duration(f.slow * float64(SPS860.Period()))
		require.LessOrEqual(t, p.least, actual, "to %.2f", to)
		require.GreaterOrEqual(t, p.most, actual, "to %.2f", to)
		before := f.delivered
		next(stretch)
		require.Equal(t, before+stretch, f.delivered, "to %.2f: skipped or delivered twice", to)
	}
}

// From and At enclose the conversion as tightly as a look and the wander of the
// oscillator allow.
func TestSamplesAreEnclosedTightly(t *testing.T) {
	d, f := open(t)
	f.slow, f.volts = 1.03, signals()["ramp"]
	require.NoError(t, d.Start(t.Context(), AIN0, FS2048, SPS860))
	for i := range 300 {
		s, err := d.Next(t.Context())
		require.NoError(t, err)
		require.LessOrEqual(t, s.From, f.doneStart)
		require.GreaterOrEqual(t, s.At, f.doneEnd)
		if i > 100 {
			require.Less(t, s.At-s.From, SPS860.Period()*5/4)
		}
	}
}
