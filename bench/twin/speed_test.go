package twin

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/circuit"
	"sinkproof/bench/circuit/spice"
	"sinkproof/bench/wiring"
)

// charging returns the circuit of the twin as its capacitors begin to charge.
func charging(t testing.TB) *circuit.Sim {
	w := newTwin(t, "hand-lamp", 5)
	require.NoError(t, w.Seat("S1"))
	s, err := w.config.Wiring.Expand(wiring.Setting{Condition: "legacy-a", Axes: []wiring.AxisChoice{{Axis: "cell", Value: "3.7 V"}}})
	require.NoError(t, err)
	drive(t, w, 700*time.Millisecond)
	drive(t, w, 30*time.Millisecond, s.On...)
	drive(t, w, 1200*time.Microsecond, append(s.On, s.Feed...)...)
	return w.Truth().Circuit()
}

// analysis runs a netlist in ngspice and returns the time that ngspice itself
// states for the analysis: no start of a program, no reading of a file.
func analysis(t testing.TB, netlist string) time.Duration {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "deck.cir"), []byte(netlist), 0o600))
	cmd := exec.Command("ngspice", "-b", "-r", "out.raw", "deck.cir")
	cmd.Dir = dir
	log, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", log)
	_, rest, ok := strings.Cut(string(log), "Total analysis time (seconds) =")
	require.True(t, ok, "%s", log)
	line, _, _ := strings.Cut(rest, "\n")
	seconds, err := strconv.ParseFloat(strings.TrimSpace(line), 64)
	require.NoError(t, err)
	return time.Duration(seconds * 1e9)
}

// BenchmarkAgainstNgspice lets ngspice and the circuit compute the same 0.2 s of
// the same network, at steps of at most 0.1 ms: the twin while its capacitors
// charge. Both agree within 1 % + 5 mV at every node and every instant of
// ngspice, which the benchmark checks first. Neither the reading of the netlist
// by ngspice nor the building of the Sim counts; the Sim knows no solution
// beyond that of its first instant, and gives all nodes every 0.1 ms, as ngspice
// does, or only what is there in the end.
func BenchmarkAgainstNgspice(b *testing.B) {
	if _, err := exec.LookPath("ngspice"); err != nil {
		b.Fatal(spice.ErrMissing)
	}
	sim := charging(b)
	const duration, step = 0.2, 0.1e-3
	d, err := spice.Compare(sim, duration, step)
	require.NoError(b, err)
	require.LessOrEqual(b, d.Of, 1.0, "%v", d)
	netlist, err := spice.Netlist(sim, duration, step)
	require.NoError(b, err)
	theirs, all, end := time.Duration(math.MaxInt64), time.Duration(math.MaxInt64), time.Duration(math.MaxInt64)
	for b.Loop() {
		theirs = min(theirs, analysis(b, netlist))
		all = min(all, passing(b, sim, duration, step))
		end = min(end, passing(b, sim, duration, duration))
	}
	b.ReportMetric(float64(theirs)/1e6, "ngspice-ms")
	b.ReportMetric(float64(all)/1e6, "circuit-ms")
	b.ReportMetric(float64(theirs)/float64(all), "times-faster")
	b.ReportMetric(float64(theirs)/float64(end), "times-faster-to-the-end")
}

// passing is what the circuit takes for a stretch of time with all nodes at
// every step.
func passing(b *testing.B, sim *circuit.Sim, duration, step float64) time.Duration {
	c, err := sim.Clone()
	require.NoError(b, err)
	volts := make([]float64, c.Nodes())
	start := time.Now()
	for i := 1; float64(i) <= duration/step+0.5; i++ {
		if _, err := c.AdvanceTo(sim.Now() + float64(i)*step); err != nil {
			b.Fatal(err)
		}
		c.AllVolts(volts)
	}
	return time.Since(start)
}

// BenchmarkUnits shows that the cost grows with the number of units and no
// faster: one rig takes them one after the other.
func BenchmarkUnits(b *testing.B) {
	for _, units := range []int{1, 10, 100} {
		b.Run(fmt.Sprint(units), func(b *testing.B) {
			w := newTwin(b, "hand-lamp", 1)
			path := []string{"k_leg1", "k_leg2", "k_plug", "k_bleed", "k_lcc", "k_cut", "k_dshort", "k_range", "k_cell1", "k_cell2", "sel_cell1"}
			n := 0
			for b.Loop() {
				for range units {
					n++
					require.NoError(b, w.Seat(fmt.Sprintf("S%d", n)))
					drive(b, w, 30*time.Millisecond, path...)
					drive(b, w, 300*time.Millisecond, append(path, "s_feed")...)
					drive(b, w, 500*time.Millisecond)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(n), "µs/unit")
		})
	}
}
