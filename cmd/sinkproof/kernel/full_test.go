//go:build kernel

package kernel

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/record"
)

// TestCompleteScenario: the shipped scenario over the kernel's lines and bus
// gives what it gives on the twin alone. The faults are one of the charge
// current, one of a termination, which two C supplies of three then miss, and
// one that ends before a supply is switched on.
func TestCompleteScenario(t *testing.T) {
	s := newStation(t, lend(t))
	for _, c := range []struct {
		serial, faults string
		verdict        record.Verdict
		exit           int
		settled, times int // readings at least
	}{
		{"CS-GOOD", "good", record.Pass, exitPass, 40, 25},
		{"CS-CURRENT", "current-half", record.Fail, exitBad, 40, 25},
		{"CS-RD", "rd-missing-one-pin", record.Fail, exitBad, 40, 20},
		{"CS-SHORT", "vbus-gnd-short", record.Fail, exitBad, 0, 0},
	} {
		t.Run(c.faults, func(t *testing.T) {
			alone := s.alone(t, c.serial, c.faults)
			require.Equal(t, c.verdict, alone.Verdict)
			faults, err := twin.ParseFaults(c.faults)
			require.NoError(t, err)
			trace := s.rig.Follow()
			got := s.judge(full, c.serial, faults...).end(c.exit)
			looks, err := trace.Stop()
			require.NoError(t, err)
			require.Equal(t, c.verdict, got.Verdict)
			require.Equal(t, failed(alone), failed(got))
			require.GreaterOrEqual(t, settledAlike(t, alone, got), c.settled)
			require.GreaterOrEqual(t, timedAsSeen(t, got, looks, s.rig.Seen()), c.times)
			require.Empty(t, looks[len(looks)-1].Closed)
			t.Logf("%s in the run", time.Duration(got.DurationUS)*time.Microsecond)
		})
	}
}

// alone runs the same program on the twin alone, with the same wiring file.
func (s *station) alone(t *testing.T, serial, faults string) *record.Run {
	folder := t.TempDir()
	wiring := filepath.Join(folder, "rig.hcl")
	require.NoError(t, os.WriteFile(wiring, s.wiring, 0o644))
	c := exec.CommandContext(t.Context(), shop.program("sinkproof"), "run", "--rig", wiring, "--scenario", full, "--product", lamp,
		"--serial", serial, "--twin-unit", faults, "--out", filepath.Join(folder, "out"), "--json")
	out, err := c.Output()
	var ended *exec.ExitError
	if err != nil && (!errors.As(err, &ended) || ended.ExitCode() != exitBad) {
		require.NoError(t, err)
	}
	run := &record.Run{}
	require.NoError(t, json.Unmarshal(out, run))
	return run
}

// failed are the names of the checks that failed.
func failed(r *record.Run) []string {
	var names []string
	for _, c := range r.Checks {
		if c.Answer == record.Failed {
			names = append(names, c.Name)
		}
	}
	return names
}

// passing tells whether a reading is of something that moves: the top of a rise
// that a sample happened to meet, the least and the mean of a fall, the value at
// which a wait ended.
func passing(name string) bool {
	for _, end := range []string{".level", ".top", ".min", ".max", ".mean", ".value"} {
		if strings.HasSuffix(strings.SplitN(name, "[", 2)[0], end) || strings.HasSuffix(name, end) {
			return true
		}
	}
	return false
}

// settledAlike compares the settled readings of two runs within the expanded
// uncertainty of the worse one, and tells how much of it was needed.
func settledAlike(t *testing.T, alone, got *record.Run) int {
	theirs := map[string]record.Reading{}
	for _, r := range alone.Readings {
		theirs[r.Name] = r
	}
	compared, most, of := 0, 0.0, ""
	for _, r := range got.Readings {
		w, ok := theirs[r.Name]
		require.True(t, ok, "the twin alone has no reading %s", r.Name)
		if r.Unit == "s" || passing(r.Name) || r.Bound != "" || w.Bound != "" {
			continue
		}
		u := max(r.U, w.U)
		require.InDelta(t, w.Value.Value, r.Value.Value, u, "reading %s in %s", r.Name, r.Unit)
		compared++
		if part := math.Abs(r.Value.Value-w.Value.Value) / u; part > most {
			most, of = part, r.Name
		}
	}
	require.Len(t, got.Readings, len(alone.Readings))
	t.Logf("%d settled readings within U, the farthest, %s, at %.2f of it", compared, of, most)
	return compared
}

// aligning is how well the clock of a run can be laid over the rig's, at worst.
// VBUS does not go beyond a level again this soon after a wait has ended.
const aligning = 5 * time.Millisecond

// timedAsSeen holds readings of times against what was seen from outside: from
// the last write to the coils until VBUS crossed its level, within the spans
// between the program's samples and between the looks.
func timedAsSeen(t *testing.T, run *record.Run, looks []Look, seen Seen) int {
	ahead := aligned(run, seen)
	held, most, of := 0, 0.0, ""
	for _, r := range run.Readings {
		up := strings.Contains(r.Name, "-on")
		if r.Unit != "s" || r.Bound != "" || !up && !strings.Contains(r.Name, "-fall") || strings.HasPrefix(r.Name, "detached") {
			continue
		}
		held++
		w := seenWait{up: up, force: r.Channel == "vforce", looks: looks}
		end := time.Duration(r.AtUS)*time.Microsecond + ahead
		took, span := seconds(r.Value.Value), spans(r)
		entered := lastBefore(seen.Coils, end-took+span)
		crossing, unsure, ok := w.crossing(end + span + aligning)
		require.True(t, ok, "reading %s: nothing crossed", r.Name)
		// What was so before it was waited for took no time.
		crossing = max(crossing, entered)
		off := took - (crossing - entered)
		require.LessOrEqual(t, off.Abs(), span+unsure,
			"reading %s: crossed at %s, coils written at %s, waited until %s, looks %v", r.Name, crossing, entered, end, w.around(end, took))
		if part := off.Abs().Seconds() / (span + unsure).Seconds(); part > most {
			most, of = part, r.Name
		}
	}
	t.Logf("%d times as seen from outside, the farthest, %s, at %.2f of its sampling", held, of, most)
	return held
}

// spans is the sum of the half-widths of what an instant lies in: the standard
// uncertainty of a uniform distribution is its half-width over the root of 3
// (JCGM 100, 4.3.7).
func spans(r record.Reading) time.Duration {
	sum := 0.0
	for _, c := range r.Contributions {
		sum += math.Sqrt(3) * c.Std * math.Abs(c.Sensitivity)
	}
	return seconds(sum)
}

// aligned is what to add to an instant of a run for the rig's clock: the value
// at which the most moves of the relay log fall on writes that were seen.
func aligned(run *record.Run, seen Seen) time.Duration {
	best, most := time.Duration(0), -1
	if len(run.Relays) == 0 {
		return 0
	}
	for _, w := range seen.Coils {
		ahead := w - time.Duration(run.Relays[0].AtUS)*time.Microsecond
		n := 0
		for _, m := range run.Relays {
			at := time.Duration(m.AtUS)*time.Microsecond + ahead
			if w := lastBefore(seen.Coils, at+time.Millisecond); at-w < 2*time.Millisecond {
				n++
			}
		}
		if n > most {
			best, most = ahead, n
		}
	}
	return best
}

func lastBefore(instants []time.Duration, at time.Duration) time.Duration {
	i, _ := slices.BinarySearch(instants, at)
	if i == 0 {
		return math.MinInt64 / 2
	}
	return instants[i-1]
}

// Levels that VBUS crosses quickly enough for it not to matter where it is
// looked at, and vSafe0V, 0.8 V, which it falls through slowly.
const (
	given = 4.0
	cold  = 0.8
)

// seenWait is a wait for a rise or a fall of VBUS, with what was seen.
type seenWait struct {
	up, force bool
	looks     []Look
}

func (w seenWait) level(l Look) bool {
	v := l.Sense
	if w.force {
		v = l.Force
	}
	if w.up {
		return v >= given
	}
	return v <= cold
}

// crossing is the last instant before another at which VBUS went beyond, and how
// long nobody had looked. On its way into a condition it may do so more than once.
func (w seenWait) crossing(before time.Duration) (at, unsure time.Duration, found bool) {
	for i := 1; i < len(w.looks) && w.looks[i].At <= before; i++ {
		if w.level(w.looks[i]) && !w.level(w.looks[i-1]) {
			at, unsure, found = w.looks[i].At, w.looks[i].At-w.looks[i-1].At+Glance, true
		}
	}
	return at, unsure, found
}

// around are the looks of a wait, for a person who wonders.
func (w seenWait) around(end, took time.Duration) []string {
	var out []string
	for _, l := range w.looks {
		if l.At > end-took-50*time.Millisecond && l.At < end+20*time.Millisecond {
			out = append(out, fmt.Sprintf("%s: %.2f V", l.At, map[bool]float64{true: l.Force, false: l.Sense}[w.force]))
		}
	}
	return out
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
