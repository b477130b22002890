package twin

import (
	"bufio"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// row is one line of the matrix.
type row struct {
	fault, pin    string
	a, n, f, e, o string
}

func readMatrix(t *testing.T) []row {
	file, err := os.Open("testdata/matrix.txt")
	require.NoError(t, err)
	defer file.Close()
	var rows []row
	for lines := bufio.NewScanner(file); lines.Scan(); {
		fields := strings.Fields(lines.Text())
		if len(fields) == 0 || fields[0] == "#" {
			continue
		}
		require.Len(t, fields, 7, "%s", lines.Text())
		rows = append(rows, row{fields[0], fields[1], fields[2], fields[3], fields[4], fields[5], fields[6]})
	}
	return rows
}

// nominal is the severity at which a fault has the value that the matrix
// computes with.
func nominal(fault string) float64 {
	switch fault {
	case "rd-51k", "rd-510", "rd-10k":
		return severityOf(fault)
	}
	return 1
}

// severityOf inverts the logarithmic scale of the wrong resistors.
func severityOf(fault string) float64 {
	log := func(value, barely, grossly float64) float64 {
		return logOf(value/barely) / logOf(grossly/barely)
	}
	switch fault {
	case "rd-51k":
		return log(51e3, wrongDecadeUpLeast, wrongDecadeUpMost)
	case "rd-510":
		return log(510, wrongDecadeDownMost, wrongDecadeDownLeast)
	}
	return log(10e3, 1.02*6120, wrongValueMost)
}

// seatRow seats the unit of a row; back-feed needs the cell that it comes from.
func seatRow(t *testing.T, w *Twin, r row) {
	if r.fault == "good" {
		require.NoError(t, w.Seat("M1"))
		return
	}
	f := Fault{Name: r.fault}.Severe(nominal(r.fault))
	if r.pin != "-" {
		f = f.On(r.pin)
	}
	require.NoError(t, w.Seat("M1", f))
}

// The conditions as relays, from the wiring file; with a cell on the pads.
func legacyPath() []string {
	return []string{"k_leg1", "k_leg2", "k_plug", "k_bleed", "k_lcc", "k_cut", "k_dshort", "k_range", "k_cell1", "k_cell2", "sel_cell1"}
}

func supplyPath() []string {
	return []string{"k_csup1", "k_csup2", "k_plug", "k_bleed", "k_ccc", "k_cut", "k_dshort", "k_range", "k_cell1", "k_cell2", "sel_cell1"}
}

func flipped(path []string) []string { return append(path[:len(path):len(path)], "k_flip1", "k_flip2") }

// course drives to a powered condition and reports what VBUS at the plug does
// over 1.2 s: the highest, the last, and how often it came.
func course(t *testing.T, w *Twin, path []string) (highest, last float64, comings int) {
	drive(t, w, time.Second) // isolated, so that every supply starts cold
	drive(t, w, 30*time.Millisecond, path...)
	require.NoError(t, w.Truth().Drive(append(path[:len(path):len(path)], "s_feed")...))
	on := false
	for range 600 {
		require.NoError(t, w.Truth().Pass(2*time.Millisecond))
		v, err := w.Truth().Volts("plug.sense")
		require.NoError(t, err)
		highest, last = max(highest, v), v
		if v > 2 && !on {
			comings++
		}
		on = v > 2
	}
	return highest, last, comings
}

// answer checks one cell of the matrix for one orientation.
func answer(t *testing.T, w *Twin, path []string, want string, wire string) {
	what, volts, named := strings.Cut(want, "@")
	highest, last, comings := course(t, w, path)
	switch what {
	case "power":
		require.Greater(t, last, 4.5)
		require.Equal(t, 1, comings, "VBUS must stay")
	case "cold":
		require.Less(t, highest, 2.0)
		require.Zero(t, comings)
	case "refused":
		state, err := w.Truth().Supply("csup")
		require.NoError(t, err)
		require.NotEqual(t, "attached", state)
		require.Less(t, highest, 4.3, "only the cell holds VBUS up")
	case "hiccup":
		require.Greater(t, comings, 1, "VBUS comes and goes")
	case "any", "-":
		return
	default:
		t.Fatalf("unknown cell %q", want)
	}
	if !named {
		return
	}
	cc, err := w.Truth().Volts(wire)
	require.NoError(t, err)
	if volts == "vbus" {
		require.InDelta(t, last, cc, 0.35, "CC floats to VBUS, loaded only by the voltmeter")
		return
	}
	expected, err := strconv.ParseFloat(volts, 64)
	require.NoError(t, err)
	// The matrix computes with 5 V, 56 kΩ and 5.1 kΩ; the rig's supply and
	// cable and the unit's resistors are within 3 %, 5 % and 5 % of that.
	require.InDelta(t, expected, cc, 0.13*expected+0.003)
}

// sides splits a cell into its two orientations.
func sides(cell string) (normal, turned string) {
	what, volts, named := strings.Cut(cell, "@")
	a, b, differ := strings.Cut(volts, "/")
	if named && differ {
		return what + "@" + a, what + "@" + b
	}
	if a, b, differ := strings.Cut(cell, "/"); differ {
		return a, b
	}
	return cell, cell
}

func TestFaultByConditionMatrix(t *testing.T) {
	t.Parallel()
	k := newKit(t, "hand-lamp")
	for _, r := range readMatrix(t) {
		t.Run(r.fault, func(t *testing.T) {
			w := k.twin(t, 7)
			seatRow(t, w, r)
			marked := append(supplyPath(), "k_ra")
			aNormal, aTurned := sides(r.a)
			eNormal, eTurned := sides(r.e)
			for _, c := range []struct {
				name, want, wire string
				path             []string
			}{
				{"A normal", aNormal, "cc.a", legacyPath()},
				{"A flipped", aTurned, "cc.a", flipped(legacyPath())},
				{"N", r.n, "cc.a", supplyPath()},
				{"F", r.f, "cc.a", flipped(supplyPath())},
				{"E normal", eNormal, "cc.a", marked},
				{"E flipped", eTurned, "cc.a", flipped(marked)},
			} {
				t.Run(c.name, func(t *testing.T) { answer(t, w, c.path, c.want, c.wire) })
			}
			t.Run("O", func(t *testing.T) { detachedAnswer(t, w, r.o) })
		})
	}
}

// detachedAnswer checks the column of the detached unit: no supply, its cell
// present, a known load of 1 kΩ on VBUS.
func detachedAnswer(t *testing.T, w *Twin, want string) {
	drive(t, w, 2*time.Second, "k_load", "k_bleed", "k_cell1", "k_cell2", "sel_cell1")
	v, err := w.Truth().Volts("plug.sense")
	require.NoError(t, err)
	switch want {
	case "below-0.8":
		require.Less(t, v, 0.8)
	case "above-0.8":
		require.Greater(t, v, 0.8)
	case "-":
	default:
		t.Fatalf("unknown cell %q", want)
	}
}
