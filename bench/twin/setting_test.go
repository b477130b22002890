package twin

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
)

// axis returns the value of an axis of a setting, or its default.
func axis(s wiring.Setting, name, otherwise string) string {
	for _, a := range s.Axes {
		if a.Axis == name {
			return a.Value
		}
	}
	return otherwise
}

// expectedShare is the share of the fast current that a good hand lamp takes
// in a setting that powers it; low and high bound it.
func expectedShare(s wiring.Setting) (low, high float64) {
	switch cell := axis(s, "cell", "off"); {
	case cell == "off" || cell == "4.25 V":
		return -0.01, 0.01
	case axis(s, "data", "shorted") != "shorted" && cell == "2.5 V":
		return 0.07, 0.13
	case axis(s, "data", "shorted") != "shorted":
		return 0.19, 0.26
	case cell == "2.5 V":
		return 0.07, 0.13
	case cell == "4.1 V":
		return 0.09, 1.01 // the end of charge may have begun
	}
	return 0.99, 1.01
}

// window is where CC stands in front of a supply: what a sink must read as the
// advertisement (USB Type-C R2.5, Table 4-36).
func window(s wiring.Setting) typec.Range {
	switch axis(s, "advertisement", "default") {
	case "1.5 A":
		return typec.SinkWindow(typec.A1500, typec.R25)
	case "3.0 A":
		return typec.SinkWindow(typec.A3000, typec.R25)
	}
	return typec.SinkWindow(typec.Default, typec.R25)
}

// powered says whether a condition gives VBUS to a good unit, and whether the
// unit's own CC pins are on the cable.
func powered(condition string) (vbus, cc bool) {
	switch condition {
	case "legacy-a", "c-supply", "c-supply-marked", "cell-substitute", "portable":
		return true, true
	case "stand-in":
		return true, false
	}
	return false, false
}

// Every setting of the shipped rig, all axes with all values, with a good unit:
// power, current, CC on the right pin within its window, and cold otherwise.
func TestEverySettingOfTheRig(t *testing.T) {
	t.Parallel()
	w := newTwin(t, "hand-lamp", 21)
	require.NoError(t, w.Seat("S1"))
	rig, settings := w.config.Wiring, 0
	for _, c := range rig.Conditions {
		if strings.HasPrefix(c.Name, "self-test") {
			continue // taken with no unit seated; proved with the self-test itself
		}
		for _, s := range rig.Settings(c.Name) {
			state, err := rig.Expand(s)
			require.NoError(t, err)
			drive(t, w, 700*time.Millisecond)
			drive(t, w, 30*time.Millisecond, state.On...)
			drive(t, w, 550*time.Millisecond, slices.Concat(state.On, state.Feed)...)
			checkSetting(t, w, s)
			settings++
		}
	}
	require.Greater(t, settings, 250)
}

func checkSetting(t *testing.T, w *Twin, s wiring.Setting) {
	vbus, cc := powered(s.Condition)
	if s.Condition == "probe-vbus" {
		return // see TestProbeCurrents and TestCapacitanceFromTheProbe
	}
	if !vbus {
		require.Less(t, w.Truth().Vbus(), 0.1, "%v", s)
		return
	}
	require.Greater(t, w.Truth().Vbus(), 4.2, "%v", s)
	require.Less(t, w.Truth().Vbus(), 5.5, "%v", s)
	unit, _ := w.Truth().Unit()
	low, high := expectedShare(s)
	share := w.Truth().CellAmperes() / unit.FastCurrent
	require.Greater(t, share, low, "%v", s)
	require.Less(t, share, high, "%v", s)
	if !cc {
		return
	}
	wire, other := "plug.cc1", "plug.cc2"
	if axis(s, "orientation", "normal") == "flipped" {
		wire, other = other, wire
	}
	require.GreaterOrEqual(t, volts(t, w, wire), window(s).Min.SI, "%v", s)
	require.LessOrEqual(t, volts(t, w, wire), window(s).Max.SI, "%v", s)
	require.Less(t, volts(t, w, other), 0.05, "%v", s)
}

// What each fault changes and what it leaves alone, in front of the legacy
// supply with a cell of 3.7 V, at both ends of its severity: a good
// characteristic must not look bad.
func TestFaultsChangeOnlyTheirOwn(t *testing.T) {
	t.Parallel()
	w := newTwin(t, "hand-lamp", 22)
	for _, d := range Faults() {
		for _, severity := range []float64{0, 1} {
			require.NoError(t, w.Seat("S1", Fault{Name: d.Name}.Severe(severity).On(placeOf(d.Name))))
			charge(t, w, 400*time.Millisecond, "sel_cell1")
			unit, _ := w.Truth().Unit()
			checkOwn(t, w, d.Name, unit)
		}
	}
}

// placeOf fixes the pin of the faults that have one, so that the normal
// orientation is the one concerned.
func placeOf(fault string) string {
	switch fault {
	case "rd-missing-one-pin", "cc-vbus-short", "cc-gnd-short":
		return "cc1"
	case "data-pin-open":
		return "dp1"
	}
	return ""
}

func checkOwn(t *testing.T, w *Twin, fault string, unit Unit) {
	power := w.Truth().Vbus() > 4.5
	require.Equal(t, fault != "vbus-gnd-short" && fault != "contact-resistance" && fault != "current-double" || power, power,
		"%s: VBUS %.2f V", fault, w.Truth().Vbus())
	if fault == "vbus-gnd-short" {
		return
	}
	drop := volts(t, w, "plug.force") - volts(t, w, "plug.sense")
	if fault == "contact-resistance" {
		require.Greater(t, drop, 0.3)
		return
	}
	require.Less(t, drop, 0.04, fault)
	wrong := fault == "current-half" || fault == "current-double" || fault == "charger-dead" || fault == "data-pin-open"
	if !wrong {
		require.InEpsilon(t, 0.4, w.Truth().CellAmperes(), 0.051, fault)
	} else {
		require.Greater(t, abs(w.Truth().CellAmperes()/0.4-1), 0.055, fault)
	}
	if fault == "indicator-dead" {
		require.Less(t, volts(t, w, "light"), 0.45)
	} else {
		require.InDelta(t, 1.2, volts(t, w, "light"), 0.37, fault)
	}
	cc := volts(t, w, "plug.cc1")
	require.Equal(t, ccIsRight(fault), cc > 0.36 && cc < 0.48, "%s: CC1 %.3f V, unit %+v", fault, cc, unit)
}

// ccIsRight says whether CC in the legacy condition shows nothing of a fault:
// the matrix gives 0.417 V for a good unit and for a shared termination.
func ccIsRight(fault string) bool {
	switch fault {
	case "no-rd", "rd-missing-one-pin", "cc-short", "rd-51k", "rd-510", "rd-10k", "cc-vbus-short", "cc-gnd-short":
		return false
	}
	return true
}

func abs(x float64) float64 { return max(x, -x) }
