package scenarios_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// row is one line of testdata/faults.txt.
type row struct {
	product, scenario, fault, pin string
	naming, others                []string
}

func (r row) at(severity float64) twin.Fault {
	f := twin.Fault{Name: r.fault}.Severe(severity)
	if r.pin != "-" {
		f = f.On(r.pin)
	}
	return f
}

func faultRows(tb testing.TB) []row {
	tb.Helper()
	text, err := os.ReadFile("testdata/faults.txt")
	require.NoError(tb, err)
	var out []row
	for line := range strings.SplitSeq(string(text), "\n") {
		if line == "" || line[0] == '#' {
			continue
		}
		left, right, ok := strings.Cut(line, " :")
		f := strings.Fields(left)
		require.True(tb, ok && len(f) >= 5, line)
		out = append(out, row{f[0], f[1], f[2], f[3], f[4:], strings.Fields(right)})
	}
	return out
}

// bare drops the keys of rounds and what is named twice.
func bare(names []string) []string {
	var out []string
	for _, n := range names {
		if n, _, _ = strings.Cut(n, "["); !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

// The gate runs what begins with TestSweep without the race detector, and
// everything else with it: a test of another name beside the sweeps would run
// in neither.
func TestFilesWithoutTheRaceDetectorHoldSweepsOnly(t *testing.T) {
	names, err := filepath.Glob("*_test.go")
	require.NoError(t, err)
	sweeps := 0
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		// make study runs those as well.
		study := strings.HasPrefix(string(text), "//go:build !race && study\n")
		if !study && !strings.HasPrefix(string(text), "//go:build !race\n") {
			require.NotContains(t, string(text[:min(len(text), 20)]), "go:build", "%s: another tag than the gate knows", name)
			continue
		}
		for line := range strings.SplitSeq(string(text), "\n") {
			if strings.HasPrefix(line, "func Test") {
				require.Contains(t, line, "func TestSweep", name)
				if !study {
					sweeps++
				}
			}
		}
	}
	require.Equal(t, 7, sweeps)
}

func TestEveryFaultHasARowInTheCompleteScenario(t *testing.T) {
	rows := faultRows(t)
	for _, d := range twin.Faults() {
		require.True(t, slices.ContainsFunc(rows, func(r row) bool {
			return r.product == "hand-lamp" && r.scenario == "charge-path" && r.fault == d.Name
		}), d.Name)
	}
}

// Without the open-circuit voltage of its own cell nothing is said about the
// charge of a unit, and nothing about it is failed.
func TestSealedUnitWithoutItsCellsVoltageHasNoVerdict(t *testing.T) {
	s := newStation(t, "desk-sensor", "charge-path")
	job := s.job("SEALED")
	job.Given = nil
	run, err := scenarios.Run(t.Context(), job)
	require.NoError(t, err)
	require.Equal(t, record.None, run.Verdict, run.Reason)
	require.Empty(t, failed(run))
	require.Equal(t, record.Unanswered, checkNamed(t, run, "legacy-current[normal]").Answer)
	require.Equal(t, record.Passed, checkNamed(t, run, "c-attach[default, normal]").Answer)
}

// weakened widens the limits of one check of a scenario beyond every value, or
// takes the check's place as a gate away with them.
func weakened(tb testing.TB, file *source.File, check string) *source.File {
	tb.Helper()
	text := string(file.Bytes)
	from := strings.Index(text, " \""+check+"\" {\n      ")
	require.Positive(tb, from, check)
	to := from + strings.Index(text[from:], "\n    }\n")
	lines := strings.Split(text[from:to], "\n")
	changed := false
	for i, line := range lines {
		name, limit, ok := strings.Cut(line, "=")
		if !ok {
			continue
		}
		sign := map[string]string{"low": "-", "high": "+"}[strings.TrimSpace(name)]
		if sign != "" {
			lines[i] = fmt.Sprintf("%s= (%s) %s 1e6 * abs(%s)", name, limit, sign, limit)
			changed = true
		}
	}
	require.True(tb, changed, "%s has a limit", check)
	weak, found := source.Parse(file.Path, []byte(text[:from]+strings.Join(lines, "\n")+text[to:]))
	require.NoError(tb, found.Err())
	return weak
}

// earning says on which unit a check earns its place: a fault of the unit, or
// of the rig for a control, that this check sees.
type earning struct {
	check, product, scenario, fault, pin string
	severity                             float64
	rig                                  *twin.RigFault
}

func earnings() []earning {
	lamp := func(check, fault, pin string, severity float64) earning {
		return earning{check, "hand-lamp", "charge-path", fault, pin, severity, nil}
	}
	desk := func(check, fault, pin string, severity float64) earning {
		return earning{check, "desk-sensor", "charge-path", fault, pin, severity, nil}
	}
	tag := func(check, fault, pin string, severity float64) earning {
		return earning{check, "key-tag", "no-cell", fault, pin, severity, nil}
	}
	return []earning{
		lamp("vbus-not-shorted", "vbus-gnd-short", "-", 0),
		lamp("vbus-capacitance", "bulk-missing", "-", 0),
		lamp("rd-cc1", "rd-missing-one-pin", "cc1", 0), lamp("rd-cc2", "rd-missing-one-pin", "cc2", 0),
		lamp("cross-cc1", "shared-rd", "-", 1), lamp("cross-cc2", "shared-rd", "-", 1),
		desk("clamp-cc1", "rd-missing-one-pin", "cc1", 0), desk("clamp-cc2", "rd-missing-one-pin", "cc2", 0),
		tag("shows-rd-cc1", "no-rd", "-", 0), tag("shows-rd-cc2", "no-rd", "-", 0),
		tag("drp-rd-cc1", "rd-510", "-", 1), tag("drp-rd-cc2", "rd-510", "-", 1),
		lamp("path-resistance", "contact-resistance", "-", 0),
		lamp("legacy-vbus", "contact-resistance", "-", 1),
		lamp("legacy-current", "data-pin-open", "dp1", 0),
		lamp("legacy-cc", "cc-vbus-short", "cc2", 1),
		desk("legacy-rd", "rd-10k", "-", 0),
		lamp("legacy-cc-idle", "shared-rd", "-", 1),
		lamp("indicator", "indicator-dead", "-", 0),
		desk("indicator-blinks", "indicator-dead", "-", 0),
		lamp("stand-in-current", "charger-dead", "-", 0),
		lamp("c-attach", "no-rd", "-", 0),
		tag("c-attach-in-turn", "no-rd", "-", 0), tag("marked-attach-in-turn", "shared-rd", "-", 1),
		lamp("c-cc", "rd-10k", "-", 1),
		lamp("c-current", "current-half", "-", 0),
		lamp("c-advertised", "current-double", "-", 1),
		lamp("marked-attach", "shared-rd", "-", 1),
		lamp("keeps-awake", "charger-dead", "-", 0),
		lamp("trickle-current", "charger-dead", "-", 0),
		lamp("constant-current", "current-half", "-", 0),
		lamp("end-of-charge", "overcharge", "-", 0),
		lamp("back-feed", "back-feed", "-", 0),
		lamp("supply-stays-cold", "back-feed", "-", 1),
		{check: "data-contacts", product: "hand-lamp", scenario: "charge-path", rig: &twin.RigFault{Kind: twin.ContactWelded, Part: "k_flip2"}},
		{check: "c-cold", product: "hand-lamp", scenario: "charge-path", rig: &twin.RigFault{Kind: twin.SupplySlowOff, Part: "csup", For: 700 * time.Millisecond}},
		{check: "marked-cold", product: "hand-lamp", scenario: "charge-path", rig: &twin.RigFault{Kind: twin.SupplySlowOff, Part: "csup", For: 700 * time.Millisecond}},
		{check: "supply-works", product: "hand-lamp", scenario: "charge-path", rig: &twin.RigFault{Kind: twin.SupplyDead, Part: "csup"}},
		{check: "stays-dark", product: "hand-lamp", scenario: "charge-path", rig: &twin.RigFault{Kind: twin.ContactWelded, Part: "k_ref", Index: 1}},
	}
}

func TestEveryCheckOfTheCompleteScenarioIsAmongThem(t *testing.T) {
	file, err := scenarios.Shipped("charge-path")
	require.NoError(t, err)
	earned := map[string]bool{"unconfirmed-current": true} // its own test below
	for _, e := range earnings() {
		earned[e.check] = true
	}
	var interlocks []string
	for _, p := range []string{"hand-lamp", "desk-sensor", "key-tag"} {
		sc, _ := scenarios.Load(file, benchOne(t), shippedProduct(t, p))
		for _, st := range sc.Stages {
			for _, step := range st.Steps {
				if c, ok := step.(scenarios.Check); ok {
					require.True(t, earned[bare([]string{c.Name})[0]], c.Name)
				}
			}
		}
		interlocks = nil
		for _, c := range sc.Interlocks {
			interlocks = append(interlocks, c.Name)
		}
	}
	require.Equal(t, []string{"over-current", "over-voltage", "vbus-held"}, interlocks)
}

// A charger that takes its full current from every port is another product's:
// the unit is drawn from one that does not look at the data lines.
func TestChargerThatDoesNotAskIsFound(t *testing.T) {
	whole, err := scenarios.Shipped("charge-path")
	require.NoError(t, err)
	asks := shippedProduct(t, "hand-lamp")
	bold := *asks
	bold.Charger.AsksData = false
	for _, c := range []struct {
		file *source.File
		want []string
	}{
		{whole, []string{"unconfirmed-current"}},
		{weakened(t, whole, "unconfirmed-current"), nil},
	} {
		s := openStation(t, benchOne(t), asks, &bold, c.file)
		require.Equal(t, c.want, bare(failed(s.run("BOLD"))))
	}
}

// A control that fails by the rig takes the verdict: no unit is failed for a
// supply that is dead, or for one that is never cold.
func TestFaultOfTheRigIsNoFaultOfTheUnit(t *testing.T) {
	for _, f := range []struct {
		name  string
		fault twin.RigFault
		check string
	}{
		{"C supply dead", twin.RigFault{Kind: twin.SupplyDead, Part: "csup"}, "supply-works"},
		{"stand-in always on the wire", twin.RigFault{Kind: twin.ContactWelded, Part: "k_stand"}, "supply-stays-cold"},
		{"light that is not the unit's", twin.RigFault{Kind: twin.ContactWelded, Part: "k_ref", Index: 1}, "stays-dark"},
	} {
		t.Run(f.name, func(t *testing.T) {
			// A charger that does not ask its data lines: with one that does, the
			// control of the empty nest sees the stand-in before.
			plain := *shippedProduct(t, "hand-lamp")
			plain.Charger.AsksData = false
			file, err := scenarios.Shipped("charge-path")
			require.NoError(t, err)
			s := openStation(t, benchOne(t), &plain, &plain, file)
			require.NoError(t, s.twin.Break(f.fault))
			run := s.run("UNIT")
			s.twin.Mend()
			require.Equal(t, record.None, run.Verdict, run.Reason)
			require.Contains(t, run.Reason, f.check)
			require.Contains(t, failed(run), f.check)
			require.NotContains(t, bare(failed(run)), "c-attach", "what rests on the control is not failed")
			require.Contains(t, checkNamed(t, run, f.check).Why, "it is the bench's")
		})
	}
}

func TestOverCurrentThatTheUnitDrawsFailsIt(t *testing.T) {
	s := newStation(t, "hand-lamp", "charge-path")
	require.NoError(t, s.bench.Close())
	var err error
	s.bench, err = bench.Open(t.Context(), s.rig, s.twin.Hardware(), bench.Options{Current: quantity.Amperes(0.2), Observer: s.relays})
	require.NoError(t, err)
	run := s.run("HUNGRY")
	require.Equal(t, record.Fail, run.Verdict, run.Reason)
	require.Contains(t, failed(run), "over-current")
	require.Nil(t, run.Fault)
}
