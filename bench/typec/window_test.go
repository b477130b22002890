package typec

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
)

// forms is a pull-up at the limits of its tolerance, written out here from
// R2.5 Table 4-27 so that the derivation does not lean on the code under test.
type forms struct {
	i, r5, r3   float64 // nominal: ampere, ohm to 5 V, ohm to 3.3 V
	iTol, rTol  float64
	name        string
	advertising Advertisement
}

func allForms() []forms {
	return []forms{
		{80e-6, 56e3, 36e3, 0.20, 0.20, "default", Default},
		{180e-6, 22e3, 12e3, 0.08, 0.05, "1.5A", A1500},
		{330e-6, 10e3, 4.7e3, 0.08, 0.05, "3.0A", A3000},
	}
}

const groundDrop = 0.25 // the sink's ground above the source's, 4.4.1 IR Drop

// low and high give the CC voltages of the three forms at the weak and the
// strong end of their tolerance.
func (f forms) low(rd, drop float64) [3]float64 {
	r5, r3 := f.r5*(1+f.rTol), f.r3*(1+f.rTol)
	return [3]float64{f.i * (1 - f.iTol) * rd, (4.75 - drop) * rd / (r5 + rd), (3.135 - drop) * rd / (r3 + rd)}
}

func (f forms) high(rd float64) [3]float64 {
	r5, r3 := f.r5*(1-f.rTol), f.r3*(1-f.rTol)
	return [3]float64{f.i * (1 + f.iTol) * rd, 5.5 * rd / (r5 + rd), 3.465 * rd / (r3 + rd)}
}

func TestSinkWindowsFollowFromTheResistors(t *testing.T) {
	rows := readCSV(t, "sink_windows.csv")
	require.Len(t, rows, 4)
	check := func(t *testing.T, row map[string]string, low, high [3]float64, window Range) {
		for i, column := range []string{"current", "5v", "3v3"} {
			require.InDelta(t, number(t, row["low_"+column]), low[i], 6e-5, column)
			require.InDelta(t, number(t, row["high_"+column]), high[i], 6e-5, column)
		}
		lowest, highest := min(low[0], low[1], low[2]), max(high[0], high[1], high[2])
		require.InDelta(t, number(t, row["published_low"]), lowest, 5e-4)
		require.InDelta(t, number(t, row["published_high"]), highest, 5e-4)
		require.InDelta(t, window.Min.SI, lowest, 5e-4, "the window in the code")
		require.InDelta(t, window.Max.SI, highest, 5e-4, "the window in the code")
	}
	for i, f := range allForms() {
		t.Run(f.name, func(t *testing.T) {
			require.Equal(t, f.name, rows[i]["case"])
			check(t, rows[i], f.low(4590, groundDrop), f.high(5610), SinkWindow(f.advertising, R25))
		})
	}
	t.Run("±20 %", func(t *testing.T) {
		f := allForms()
		check(t, rows[3], f[0].low(4080, groundDrop), f[2].high(6120), SinkConnect(Within20, R25))
	})
}

func TestSourceWindowsFollowFromTheResistors(t *testing.T) {
	for i, row := range readCSV(t, "source_windows.csv") {
		f := allForms()[i]
		t.Run(f.name, func(t *testing.T) {
			require.Equal(t, f.name, row["advertisement"])
			ra, rdLow, rdHigh := f.high(1200), f.low(4080, 0), f.high(6120)
			for j, form := range []string{"i", "r5", "r3"} {
				require.InDelta(t, number(t, row[form+"_ra_max"]), ra[j], 6e-5, form)
				require.InDelta(t, number(t, row[form+"_rd_min"]), rdLow[j], 6e-5, form)
				require.InDelta(t, number(t, row[form+"_rd_max"]), rdHigh[j], 6e-5, form)
			}
			// R2.5 Table 4-37 is for current sources; the dead-battery clamp of
			// 1.1 V ±20 % widens the window of Rd.
			window := SourceRd(f.advertising, R25)
			require.InDelta(t, ra[0], SourceRa(f.advertising, R25).Max.SI, 5e-4)
			require.InDelta(t, min(rdLow[0], DeadBatteryClamp().Min.SI), window.Min.SI, 5e-4)
			require.InDelta(t, max(rdHigh[0], DeadBatteryClamp().Max.SI), window.Max.SI, 5e-4)
			// Every form of source, every legal termination: inside the older
			// windows (R2.0), which hold for all three.
			for j := range ra {
				require.Equal(t, Ra, Classify(quantity.Volts(ra[j]), f.advertising, R20))
				require.Equal(t, Rd, Classify(quantity.Volts(rdLow[j]), f.advertising, R20))
				require.Equal(t, Rd, Classify(quantity.Volts(rdHigh[j]), f.advertising, R20))
			}
		})
	}
}

func TestNewWindowsLieInsideTheOld(t *testing.T) {
	// The old tables print hundredths: 2 mV of rounding, and 4 mV where 1.1639
	// became 1.16.
	rounding := 0.002 + 1e-9
	inside := func(t *testing.T, newer, older Range) {
		require.GreaterOrEqual(t, newer.Min.SI, older.Min.SI-rounding)
		require.LessOrEqual(t, newer.Max.SI, older.Max.SI+rounding)
	}
	for _, a := range Advertisements() {
		t.Run(a.String(), func(t *testing.T) {
			if a == A1500 {
				rounding = 0.004 + 1e-9
			}
			inside(t, SinkWindow(a, R25), SinkWindow(a, R20))
			rounding = 0.002 + 1e-9
			inside(t, SourceRd(a, R25), SourceRd(a, R20))
			inside(t, SourceRa(a, R25), SourceRa(a, R20))
		})
	}
	inside(t, SinkConnect(Within10, R25), SinkConnect(Within10, R20))
	inside(t, SinkConnect(Within20, R25), SinkConnect(Within20, R20))
}

func TestThresholdsLieBetweenTheWindows(t *testing.T) {
	for _, a := range Advertisements() {
		t.Run(a.String(), func(t *testing.T) {
			ra, open := RaThreshold(a).Typ.SI, OpenThreshold(a).Typ.SI
			require.Greater(t, ra, SourceRa(a, R20).Max.SI)
			require.Less(t, ra, SourceRd(a, R20).Min.SI)
			require.Greater(t, open, SourceRd(a, R20).Max.SI)
			require.Less(t, open, SourceOpen(a, R20).Min.SI)
			require.Less(t, SinkThreshold(a).Typ.SI, SinkWindow(a, R20).Min.SI)
			if a > Default {
				require.Greater(t, SinkThreshold(a).Typ.SI, SinkWindow(a-1, R20).Max.SI)
			}
		})
	}
}

func TestFormulas(t *testing.T) {
	// The worked figures of the formulas: 5 V·5.1/(56+5.1), 330 µA·5.1 kΩ,
	// 5.1 kΩ ∥ 1 kΩ.
	require.InDelta(t, 0.417, DividerVolts(5, 56e3, 5100), 5e-4)
	require.InDelta(t, 1.683, CurrentVolts(330e-6, 5100, 5), 5e-7)
	require.InDelta(t, 836, ParallelOhms(5100, 1000), 0.5)
	require.Equal(t, 5.0, CurrentVolts(330e-6, math.Inf(1), 5), "the source reaches its rail")
	require.Equal(t, 5.0, DividerVolts(5, 56e3, math.Inf(1)))
	require.Zero(t, DividerVolts(5, 56e3, 0))
	require.Zero(t, ParallelOhms(5100, 0))
	require.True(t, math.IsInf(ParallelOhms(), 1))
	require.InDelta(t, 2550, ParallelOhms(5100, 5100, math.Inf(1)), 1e-9)
	require.True(t, math.IsInf(DividerOhms(5, 56e3, 5), 1))
	require.True(t, math.IsNaN(DividerOhms(5, 56e3, 5.1)))
	for _, row := range readCSV(t, "measuring.csv") {
		rp, vs := number(t, row["pullup_ohm"]), number(t, row["supply_v"])
		for column, ohms := range map[string]float64{"v_5100": 5100, "low10": 4590, "high10": 5610, "low20": 4080, "high20": 6120} {
			v := number(t, row[column])
			require.InDelta(t, v, DividerVolts(vs, rp, ohms), 6e-5, column)
			require.InEpsilon(t, ohms, DividerOhms(vs, rp, DividerVolts(vs, rp, ohms)), 1e-12)
		}
	}
}

func TestCablePaths(t *testing.T) {
	// Every cable carries 3 A, a marked one 5 A; 4.75 - 0.50 - 0.25 = 4.00 V.
	require.Equal(t, "3 A, 5 A", CableRating(false).Max.String()+", "+CableRating(true).Max.String())
	require.Equal(t, "4.000 V", SinkVBUS().Min.Text(4))
	require.Equal(t, "166.7 mΩ", PathVBUS().Max.Text(4))
	require.Equal(t, "83.3 mΩ", PathGND().Max.Text(3))
}
