package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/fixtures/product"
)

// charge drives a unit in front of the legacy supply with the cell at a level.
func charge(t testing.TB, w *Twin, d time.Duration, cell ...string) {
	on := []string{"k_leg1", "k_leg2", "k_plug", "k_bleed", "k_lcc", "k_cut", "k_dshort", "k_range", "k_cell1", "k_cell2"}
	on = append(on, cell...)
	drive(t, w, 30*time.Millisecond, on...)
	drive(t, w, d, append(on, "s_feed")...)
}

// The phases of a linear charger (facts, section 8): a tenth of the current
// below the trickle threshold, the programmed current above it, nothing with a
// full cell.
func TestChargerPhases(t *testing.T) {
	for _, c := range []struct {
		level string
		cell  []string
		phase string
		share float64 // of the fast current
	}{
		{"2.5 V", nil, "trickle", 0.1},
		{"3.0 V", []string{"sel_cell0"}, "constant current", 1},
		{"3.7 V", []string{"sel_cell1"}, "constant current", 1},
		{"4.25 V", []string{"sel_cell2"}, "done", 0},
	} {
		t.Run(c.level, func(t *testing.T) {
			w := newTwin(t, "hand-lamp", 1)
			require.NoError(t, w.Seat("S1"))
			charge(t, w, 500*time.Millisecond, c.cell...)
			unit, _ := w.Truth().Unit()
			require.Equal(t, c.phase, w.Truth().Charger())
			require.InDelta(t, c.share*unit.FastCurrent, w.Truth().CellAmperes(), 0.0255*unit.FastCurrent)
		})
	}
}

// At 4.1 V the cell substitute takes the whole current or, near the end of
// charge, what constant voltage leaves: the cell is held at 4.20 V ± 1 %
// (facts, chg_vreg) and never above.
func TestChargeEndsAtRegulation(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	for i := range 5 {
		require.NoError(t, w.Seat("S"+string(rune('1'+i))))
		charge(t, w, 300*time.Millisecond) // pads joined to nothing: no cell
		on := []string{"k_leg1", "k_leg2", "k_plug", "k_bleed", "k_lcc", "k_cut", "k_dshort", "k_range", "s_feed"}
		drive(t, w, 200*time.Millisecond, on...)
		highest := 0.0
		for range 400 {
			require.NoError(t, w.Truth().Pass(time.Millisecond))
			highest = max(highest, volts(t, w, "pad.cell"))
		}
		unit, _ := w.Truth().Unit()
		require.InEpsilon(t, unit.Regulation, highest, 0.003)
		require.InEpsilon(t, 4.20, highest, 0.01)
	}
}

// The charger asks its data lines (USB Battery Charging 1.2, facts r_dcp):
// joined through at most 200 Ω it takes the full current, otherwise a unit
// load; host-like pull-downs are no answer.
func TestChargerAsksDataLines(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for _, c := range []struct {
		name string
		data []string
		full bool
	}{
		{"shorted", []string{"k_dshort"}, true},
		{"host-like", []string{"k_dhost"}, false},
		{"open", nil, false},
		{"shorted and flipped", []string{"k_dshort", "k_flip1", "k_flip2"}, true},
		{"pair not turned with the plug", []string{"k_dshort", "k_flip1"}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := k.twin(t, 2)
			require.NoError(t, w.Seat("S1"))
			on := append([]string{"k_leg1", "k_leg2", "k_plug", "k_bleed", "k_lcc", "k_cut", "k_range", "k_cell1", "k_cell2", "sel_cell1"}, c.data...)
			drive(t, w, 30*time.Millisecond, on...)
			drive(t, w, 300*time.Millisecond, append(on, "s_feed")...)
			unit, _ := w.Truth().Unit()
			if c.full {
				require.InEpsilon(t, unit.FastCurrent, w.Truth().CellAmperes(), 0.001)
			} else {
				require.InEpsilon(t, 0.09, w.Truth().CellAmperes(), 0.051)
			}
		})
	}
}

// One data contact that is not joined leaves one orientation at full current
// and the other at the unit load.
func TestOpenDataPinShowsOneWayRound(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for _, pin := range []string{"dp1", "dm1", "dp2", "dm2"} {
		w := k.twin(t, 2)
		require.NoError(t, w.Seat("S1", Fault{Name: "data-pin-open"}.On(pin)))
		normal := pin == "dp1" || pin == "dm1"
		for _, turned := range []bool{false, true} {
			on := legacyPath()
			if turned {
				on = flipped(on)
			}
			drive(t, w, 300*time.Millisecond)
			drive(t, w, 30*time.Millisecond, on...)
			drive(t, w, 300*time.Millisecond, append(on, "s_feed")...)
			if normal != turned {
				require.Less(t, w.Truth().CellAmperes(), 0.1, "%s, flipped %t", pin, turned)
			} else {
				require.Greater(t, w.Truth().CellAmperes(), 0.35, "%s, flipped %t", pin, turned)
			}
		}
	}
}

// The current comes in steps, and VBUS never sags below the lock-out on the
// way: soft start.
func TestChargerStartsSoftly(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	charge(t, w, 5*time.Millisecond, "sel_cell1")
	levels := map[int]bool{}
	for range 1500 {
		require.NoError(t, w.Truth().Pass(100*time.Microsecond))
		levels[int(1e4*w.Truth().CellAmperes()+0.5)] = true
	}
	require.GreaterOrEqual(t, len(levels), softSteps)
}

func TestIndicatorIsSeen(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	unit, _ := w.Truth().Unit()
	require.Less(t, volts(t, w, "light"), 0.02)
	charge(t, w, 300*time.Millisecond, "sel_cell1")
	require.InEpsilon(t, unit.Light, volts(t, w, "light"), 0.011, "the sensor's load is 10 kΩ ± 1 %")
	charge(t, w, 300*time.Millisecond, "sel_cell2")
	require.Less(t, volts(t, w, "light"), 0.02, "done: off")
	w.Unseat()
	require.InDelta(t, 0, volts(t, w, "light"), 1e-6)
}

// A blinking indicator is lit for half of its period: 1 s ± 10 % of the
// product file.
func TestIndicatorBlinks(t *testing.T) {
	w := newTwin(t, "desk-sensor", 1)
	require.NoError(t, w.Seat("S1"))
	charge(t, w, time.Second)
	lit, changes := 0, 0
	before := volts(t, w, "light") > 0.1
	for range 10000 {
		require.NoError(t, w.Truth().Pass(time.Millisecond))
		on := volts(t, w, "light") > 0.1
		if on {
			lit++
		}
		if on != before {
			changes++
		}
		before = on
	}
	require.InDelta(t, 5000, lit, 600)
	require.InDelta(t, 20, changes, 3)
}

// A controller without power shows its clamp, 0.88 to 1.32 V, whatever the
// pull-up; with power it shows Rd (facts, rd_clamp, rd_chip_db).
func TestControllerClampsUntilPowered(t *testing.T) {
	w := newTwin(t, "desk-sensor", 3)
	require.NoError(t, w.Seat("S1"))
	for _, pull := range []string{"k_pu_lo", "k_pu_hi"} {
		drive(t, w, 50*time.Millisecond, "k_cut", pull)
		cc := volts(t, w, "plug.cc1")
		require.Greater(t, cc, 0.88)
		require.Less(t, cc, 1.35)
	}
	charge(t, w, 400*time.Millisecond)
	require.InDelta(t, 0.42, volts(t, w, "plug.cc1"), 0.08)
	unit, _ := w.Truth().Unit()
	require.InEpsilon(t, unit.FastCurrent, w.Truth().CellAmperes(), 0.001)
	drive(t, w, time.Second, "k_cut", "k_pu_lo")
	require.Greater(t, volts(t, w, "plug.cc1"), 0.88, "unpowered again")
}

// The C supply takes the clamp for Rd at every advertisement.
func TestControllerAttaches(t *testing.T) {
	w := newTwin(t, "desk-sensor", 3)
	require.NoError(t, w.Seat("S1"))
	for _, sel := range []string{"sel_c_15", "sel_c_30"} {
		on := []string{"k_csup1", "k_csup2", "k_plug", "k_bleed", "k_ccc", "k_cut", "k_range", sel}
		drive(t, w, time.Second)
		drive(t, w, 30*time.Millisecond, on...)
		drive(t, w, time.Second, append(on, "s_feed")...)
		require.Equal(t, "attached", supplyState(t, w, "csup"))
		require.Greater(t, w.Truth().Vbus(), 4.5)
	}
}

// fittedTag is a dual-role product with its cell fitted, so that it toggles.
func fittedTag(t *testing.T) *product.Product {
	p := *shippedProduct(t, "key-tag")
	p.Cell = shippedProduct(t, "desk-sensor").Cell
	return &p
}

// A dual-role port without a partner shows Rd and Rp in turn, with a period of
// 50 to 100 ms and 30 to 70 % as a source (facts, tDRP, dcSRC.DRP); a pull-up
// on CC makes it stay a sink.
func TestDualRolePortToggles(t *testing.T) {
	w, err := New(Config{Wiring: shippedRig(t), Product: fittedTag(t), Seed: 1})
	require.NoError(t, err)
	require.NoError(t, w.Seat("S1"))
	drive(t, w, 300*time.Millisecond, "k_bleed")
	source, changes := 0, 0
	before := volts(t, w, "plug.cc1") > 1
	for range 2000 {
		require.NoError(t, w.Truth().Pass(500*time.Microsecond))
		up := volts(t, w, "plug.cc1") > 1
		if up {
			source++
		}
		if up != before {
			changes++
		}
		before = up
	}
	require.GreaterOrEqual(t, changes, 2*10-2)
	require.LessOrEqual(t, changes, 2*20+2)
	require.Greater(t, source, 2000*26/100)
	require.Less(t, source, 2000*74/100, "a part of a period may stand at either end")
	drive(t, w, 300*time.Millisecond, "k_cut", "k_pu_lo", "k_bleed")
	unit, _ := w.Truth().Unit()
	for range 400 {
		require.NoError(t, w.Truth().Pass(time.Millisecond))
		require.InEpsilon(t, 3.3*unit.Rd[0]/(10e3+unit.Rd[0]), volts(t, w, "plug.cc1"), 0.02)
	}
	require.NoError(t, w.Truth().Err())
}

// Without a cell a dual-role port has no power and shows plain terminations.
func TestDualRolePortWithoutPower(t *testing.T) {
	w := newTwin(t, "key-tag", 1)
	require.NoError(t, w.Seat("S1"))
	drive(t, w, 300*time.Millisecond)
	for range 200 {
		require.NoError(t, w.Truth().Pass(time.Millisecond))
		require.Less(t, volts(t, w, "plug.cc1"), 0.01)
	}
}

// A current through the ground contact lifts the unit's ground, and with it
// what CC shows against the rig's (facts, section 3.5).
func TestGroundContactLiftsTheUnit(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	charge(t, w, 300*time.Millisecond, "sel_cell1")
	before := volts(t, w, "plug.cc2")
	require.NoError(t, w.Break(RigFault{Kind: PinWorn, Part: "ground", Value: 0.5}))
	require.NoError(t, w.Truth().Pass(time.Millisecond))
	// The cell substitute returns on the rig's side, so that the ground
	// contact carries what the board itself takes: lamp and charger.
	require.Greater(t, volts(t, w, "plug.cc2"), before+0.5*1e-3)
}

// A worn power contact shows between force and sense.
func TestPowerContactDropsVoltage(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	charge(t, w, 300*time.Millisecond, "sel_cell1")
	drop := func() float64 { return volts(t, w, "plug.force") - volts(t, w, "plug.sense") }
	require.Less(t, drop(), 0.02)
	require.NoError(t, w.Break(RigFault{Kind: PinWorn, Part: "vbus-force", Value: 1}))
	require.NoError(t, w.Truth().Pass(time.Millisecond))
	require.InEpsilon(t, 0.383, drop(), 0.06)
	w.Mend()
	require.NoError(t, w.Truth().Pass(time.Millisecond))
	require.Less(t, drop(), 0.02)
	require.NoError(t, w.Break(RigFault{Kind: PinOpen, Part: "vbus-force"}))
	require.NoError(t, w.Truth().Pass(3*time.Second))
	require.Less(t, w.Truth().Vbus(), 0.6)
	require.Greater(t, volts(t, w, "plug.force"), 4.75)
}

// The probe's current into the unit's capacitance: I = C dV/dt between 0.3 and
// 2.0 V, below any lock-out.
func TestCapacitanceFromTheProbe(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	unit, _ := w.Truth().Unit()
	drive(t, w, 30*time.Millisecond, "k_bleed")
	require.NoError(t, w.Truth().Drive("k_bleed", "k_pv1", "k_pv2"))
	low := first(t, w, time.Second, func() bool { return volts(t, w, "plug.sense") > 0.3 })
	v1 := volts(t, w, "plug.sense")
	high := first(t, w, time.Second, func() bool { return volts(t, w, "plug.sense") > 1.0 })
	_ = low
	v2 := volts(t, w, "plug.sense")
	// 1.02 MΩ of the voltmeter and the unit's 100 kΩ take their part.
	mean := 0.1e-3 - (v1+v2)/2*(1/unit.Load+1/1.02e6)
	require.InEpsilon(t, unit.Capacitance, mean*high.Seconds()/(v2-v1), 0.02)
	require.Equal(t, "off", w.Truth().Charger())
}

// Every good unit lies within the tolerances of its product, on any seed.
func TestGoodUnitsAreGood(t *testing.T) {
	p := shippedProduct(t, "hand-lamp")
	rapid.Check(t, func(r *rapid.T) {
		b := drawBoard(rapid.Uint64().Draw(r, "seed"), p, rapid.String().Draw(r, "serial"))
		for _, rd := range b.rd {
			require.InEpsilon(r, 5100, rd, 0.0501)
		}
		require.InEpsilon(r, 0.4, b.charger.ChargeAmperes, 0.0501)
		require.InEpsilon(r, 4.2, b.charger.RegulationVolts, 0.00751)
		require.InDelta(r, 4.92e-6, b.farads, 0.2*4.92e-6+1e-12)
		ratio := b.charger.TerminationAmperes / b.charger.ChargeAmperes
		require.GreaterOrEqual(r, ratio, 0.075)
		require.LessOrEqual(r, ratio, 0.1)
		require.Less(r, b.charger.StopVolts, b.charger.StartVolts)
		require.Empty(r, b.faults)
	})
}

// The rig's capacitors keep their charge while the unit is exchanged.
func TestChargesOutliveTheExchange(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	drive(t, w, 100*time.Millisecond, "k_bleed", "k_pv1", "k_pv2")
	before := volts(t, w, "plug.sense")
	require.Greater(t, before, 2.5)
	drive(t, w, 4*time.Millisecond, "k_bleed")
	left := volts(t, w, "plug.sense")
	require.Greater(t, left, 1.0)
	w.Unseat() // nothing there: nothing happens
	require.NoError(t, w.Seat("S1"))
	require.NoError(t, w.Truth().Pass(time.Microsecond))
	w.Unseat()
	require.InDelta(t, 0.01, volts(t, w, "plug.sense"), 0.02, "10 nF shared with 5 µF")
	drive(t, w, 100*time.Millisecond, "k_bleed", "k_pv1", "k_pv2")
	require.InDelta(t, before, volts(t, w, "plug.sense"), 0.01)
}

func TestSeatingAgain(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	first, _ := w.Truth().Unit()
	require.NoError(t, w.Seat("S1"))
	second, ok := w.Truth().Unit()
	require.True(t, ok)
	require.NotEqual(t, first.PowerContact, second.PowerContact, "the plug mates anew")
	first.PowerContact, second.PowerContact = 0, 0
	require.Equal(t, first, second, "the unit is the same")
	w.Unseat()
	_, ok = w.Truth().Unit()
	require.False(t, ok)
	w.Unseat()
	require.Zero(t, w.Truth().Vbus())
	require.Zero(t, w.Truth().CellAmperes())
	require.Equal(t, "no unit", w.Truth().Charger())
}
