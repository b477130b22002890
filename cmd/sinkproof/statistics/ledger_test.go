package statistics

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// unit is one run of a test ledger.
type unit struct {
	serial, lot, supplier string
	nest                  int
	answer                record.Answer
	value                 *record.Value
	upper                 float64
}

func volts(v float64) *record.Value { return &record.Value{Value: v, Unit: "V", U: 0.01} }

// filled makes a ledger of runs, one a day, on benches of the kinds; on real ones
// where none are given.
func filled(t *testing.T, units []unit, kinds ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "line.db")
	key := ed25519.NewKeyFromSeed([]byte(strings.Repeat("k", ed25519.SeedSize)))
	l, err := ledger.Open(context.Background(), path, ledger.Opts{Key: key})
	require.NoError(t, err)
	for n, u := range units {
		kind := record.Hardware
		if n < len(kinds) {
			kind = kinds[n]
		}
		ran(t, l, n, u, kind)
	}
	require.NoError(t, l.Close())
	return path
}

// ran is the n-th run of a ledger.
func ran(t *testing.T, l *ledger.Ledger, n int, u unit, kind string) {
	t.Helper()
	at := time.Date(2026, 5, 1+n, 7, 30, 0, 0, time.UTC)
	id, err := record.NewID(at, strings.NewReader(fmt.Sprintf("%010d", n)))
	require.NoError(t, err)
	o, _, err := l.OpenRun(context.Background(), record.Opening{
		ID: id, Serial: u.serial, Product: "bicycle lamp", Lot: u.lot, Supplier: u.supplier, Nest: u.nest, AllowedBy: "M. Weber",
		Bench: record.Bench{Name: "bench 3", Kind: kind, Program: "0.1.0"}, Started: record.Instant(at),
		Files:    []record.File{{Role: record.RoleScenario, Name: "charge path", SHA256: strings.Repeat("0a", 32)}},
		Decision: record.Decision{Rule: record.Simple},
	})
	require.NoError(t, err)
	c := record.Check{Name: "vbus", Title: "VBUS", Answer: u.answer, Value: u.value, AtUS: 1}
	r := record.Run{Schema: record.RunSchema, Opening: o, DurationUS: 2, Verdict: record.Pass, Bin: record.BinPass}
	if u.upper > 0 {
		c.Upper = &record.Limit{Value: u.upper, Unit: "V", Source: "a standard", Acceptance: u.upper}
	}
	switch u.answer {
	case record.Failed:
		c.Why, r.Verdict, r.Bin, r.Reason = "too high", record.Fail, record.BinRework, "VBUS"
	case record.Unanswered:
		c.Why, r.Verdict, r.Bin, r.Reason = "bus error", record.None, record.BinRetest, "bus error"
		r.Fault = &record.BenchFault{AtUS: 1, What: "bus error"}
	}
	r.Checks = []record.Check{c}
	_, err = l.CloseRun(context.Background(), r)
	require.NoError(t, err)
}

// line is a ledger with what a line leaves: a retest, an answer that the bench
// could not give, a bound, two suppliers, two nests.
func line(t *testing.T) string {
	bound := volts(6)
	bound.Bound = record.AtLeast
	return filled(t, []unit{
		{"A1", "L1", "board house A", 1, record.Failed, volts(5.3), 5.25},
		{"A2", "L1", "board house A", 2, record.Passed, volts(5.1), 5.25},
		{"A1", "L1", "board house A", 2, record.Passed, volts(5.2), 5.25},
		{"B1", "L2", "board house B", 1, record.Passed, volts(5.0), 5.25},
		{"B2", "L2", "board house B", 2, record.Unanswered, nil, 5.25},
		{"B3", "L2", "board house B", 1, record.Failed, bound, 5.25},
		{"B4", "L2", "board house B", 1, record.Passed, volts(4.9), 5.25},
		{"A2", "L1", "board house A", 2, record.Passed, volts(5.12), 5.25},
	})
}

func TestLedgerAsSource(t *testing.T) {
	path := line(t)
	from := func(args ...string) []string {
		return append([]string{"study", "moments", "--ledger", path, "--check", "vbus"}, args...)
	}
	for _, c := range []struct {
		name string
		args []string
		n    int
		mean float64
	}{
		{"first runs", nil, 4, (5.3 + 5.1 + 5.0 + 4.9) / 4},
		{"all runs", []string{"--attempts", "all"}, 6, (5.3 + 5.1 + 5.2 + 5.0 + 4.9 + 5.12) / 6},
		{"lot", []string{"--lot", "L2"}, 2, 4.95},
		{"supplier", []string{"--supplier", "board house A"}, 2, 5.2},
		{"product", []string{"--product", "bicycle lamp"}, 4, 5.075},
		{"since a day", []string{"--since", "2026-05-04"}, 2, 4.95},
		{"until a day", []string{"--until", "2026-05-04"}, 2, 5.2},
		{"since an instant", []string{"--since", "2026-05-02T07:30:00Z"}, 3, 5.0},
	} {
		got := answerOf(t, "", from(c.args...)...)
		require.EqualValues(t, c.n, got.number(t, "n"), c.name)
		require.InDelta(t, c.mean, got.number(t, "mean"), 1e-12, c.name)
	}
	s := drive(t, "", from()...)
	require.Contains(t, s.out, "vbus in V, line.db")
	require.Contains(t, s.out, "2 rows that the bench could not answer, or of which only a bound is known")
	refused(t, "", from("--attempts", "some"), "--attempts")
	refused(t, "", from("--since", "May"), "no date")
	refused(t, "", from("--by", "colour"), "colour")
	refused(t, "", from("--product", "torch"), "no value")
	refused(t, "", from("--until", "May"), "no date")
	refused(t, "", []string{"study", "moments", "--ledger", path, "--check", "vbas"}, `no value of "vbas"`, "no run was asked")
	groups := answerOf(t, "", from("--by", "supplier")...).list(t, "groups")
	require.Len(t, groups, 2)
	require.Equal(t, "board house A", groups[0]["group"])
	require.Equal(t, 2.0, groups[1]["n"])
}

// TestSimulatedRunsAreNoEvidence: whoever reads a study of a ledger must see that
// values came from a twin, in every form.
func TestSimulatedRunsAreNoEvidence(t *testing.T) {
	runs := func(kinds ...string) string {
		var units []unit
		for i := range kinds {
			units = append(units, unit{serial: fmt.Sprint("A", i), supplier: fmt.Sprint("house ", i%2), nest: 1, answer: record.Passed,
				value: volts(5 + float64(i*i%7)/10), upper: 6})
		}
		return filled(t, units, kinds...)
	}
	const twin, rig = record.Twin, record.Hardware
	all, some, none := runs(twin, twin, twin, twin, twin, twin), runs(twin, rig, rig, twin, rig, rig), runs(rig, rig, rig, rig, rig, rig)
	for _, line := range []string{
		"study moments", "study capability", "study chart --kind individuals", "study tolerance", "study bias --reference 5",
		"study compare --between supplier", "study gauge --part supplier --appraiser nest", "study moments --by supplier", "lot variables --sample-size 6 --k 1",
	} {
		for path, want := range map[string]string{
			all:  "All of these values are from simulated runs: they are no evidence about units that exist.",
			some: "2 of these 6 values are from simulated runs. Counted among the others, they leave no evidence about units that exist.",
			none: "",
		} {
			args := append(strings.Fields(line), "--ledger", path, "--check", "vbus")
			html, _, err := pagesOf(t, "", args...)
			require.NoError(t, err, line)
			text, got := drive(t, "", args...).out, answerOf(t, "", args...)
			if want == "" {
				require.NotContains(t, text+html, "imulated", line)
				require.NotContains(t, got, "simulated", line)
				continue
			}
			require.Contains(t, text, "\n"+want+"\n", line)
			require.Contains(t, html, "<strong>Simulated bench.</strong> "+want, line)
			require.Equal(t, true, got["simulated"], line)
		}
	}
}

// TestLedgerLimits: the limits of the records count where none are given.
func TestLedgerLimits(t *testing.T) {
	path := line(t)
	got := answerOf(t, "", "study", "capability", "--ledger", path, "--check", "vbus")
	want := answerOf(t, "v\n5.3\n5.1\n5.0\n4.9\n", "study", "capability", "-", "--upper", "5.25")
	require.Equal(t, want, got)
	given := answerOf(t, "", "study", "capability", "--ledger", path, "--check", "vbus", "--lower", "4.75")
	require.Equal(t, answerOf(t, "v\n5.3\n5.1\n5.0\n4.9\n", "study", "capability", "-", "--lower", "4.75"), given)
	moved := filled(t, []unit{{"A1", "", "", 1, record.Passed, volts(5), 5.25}, {"A2", "", "", 1, record.Passed, volts(5.1), 5.5}})
	refused(t, "", []string{"study", "capability", "--ledger", moved, "--check", "vbus"}, "limits", "changed")
	bare := filled(t, []unit{{"A1", "", "", 1, record.Passed, volts(5), 0}, {"A2", "", "", 1, record.Passed, volts(5.1), 0}})
	refused(t, "", []string{"study", "capability", "--ledger", bare, "--check", "vbus"}, "no limit")
}

// TestLedgerOfTwoUnits: volts and amperes do not make a sample.
func TestLedgerOfTwoUnits(t *testing.T) {
	path := filled(t, []unit{{"A1", "", "", 1, record.Passed, volts(5), 0}, {"A2", "", "", 1, record.Passed, &record.Value{Value: 1, Unit: "A"}, 0}})
	refused(t, "", []string{"study", "moments", "--ledger", path, "--check", "vbus"}, "in V and in A")
}

// TestLedgerGauge: every run counts, and a serial is a part.
func TestLedgerGauge(t *testing.T) {
	var units []unit
	for trial := range 2 {
		for nest := range 2 {
			for part := range 3 {
				v := 5 + float64(part)*0.1 + float64(nest)*0.02 + float64((trial*7+part*3+nest)%5)*0.001
				units = append(units, unit{fmt.Sprint("P", part), "", "", nest + 1, record.Passed, volts(v), 0})
			}
		}
	}
	path := filled(t, units)
	got := answerOf(t, "", "study", "gauge", "--ledger", path, "--check", "vbus", "--part", "serial", "--appraiser", "nest")
	require.Equal(t, 3.0, got["parts"])
	require.Equal(t, 2.0, got["appraisers"])
	require.Equal(t, 2.0, got["trials"])
	require.Greater(t, got.number(t, "pv"), got.number(t, "grr"))
	chart := answerOf(t, "", "study", "chart", "--ledger", path, "--check", "vbus", "--kind", "xbar-r", "--subgroup", "serial", "--attempts", "all")
	require.Len(t, chart.list(t, "points"), 3)
	refused(t, "", []string{"study", "chart", "--ledger", path, "--check", "vbus", "--kind", "p", "--size", "tested"}, "no column")
}

// TestLedgerPagesAreDated: a page of records has the date of the last one.
func TestLedgerPagesAreDated(t *testing.T) {
	_, pdf, err := pagesOf(t, "", "study", "moments", "--ledger", line(t), "--check", "vbus", "--attempts", "all")
	require.NoError(t, err)
	require.Contains(t, pdf, "D:20260508073000")
}

// TestLedgerSuspects: a golden unit deviates after two runs, whose values then
// do not count unless they are asked for; its own never do.
func TestLedgerSuspects(t *testing.T) {
	path := filled(t, nil)
	ctx := context.Background()
	l, err := ledger.Open(ctx, path, ledger.Opts{Key: ed25519.NewKeyFromSeed([]byte(strings.Repeat("k", ed25519.SeedSize)))})
	require.NoError(t, err)
	at := time.Date(2026, 6, 1, 7, 30, 0, 0, time.UTC)
	o := record.Opening{
		Serial: "GOLD-1", Product: "bicycle lamp", Bench: record.Bench{Name: "bench 3", Kind: record.Hardware, Program: "0.1.0"}, Started: record.Instant(at),
		Files:    []record.File{{Role: record.RoleScenario, Name: "charge path", SHA256: strings.Repeat("0a", 32)}},
		Decision: record.Decision{Rule: record.Simple},
	}
	golden, err := record.NewID(at, strings.NewReader("0000000001"))
	require.NoError(t, err)
	_, err = l.RegisterGolden(ctx, record.Golden{ID: golden, Bench: o.Bench, Made: o.Started, By: "A. Engineer", Serial: o.Serial, Product: o.Product,
		Title: "good board", Expected: record.Expected{Verdict: record.Pass}, ValidS: 43_200})
	require.NoError(t, err)
	ran(t, l, 0, unit{"A1", "", "", 1, record.Passed, volts(5), 0}, record.Hardware)
	ran(t, l, 1, unit{"A2", "", "", 1, record.Passed, volts(5.1), 0}, record.Hardware)
	o.ID, err = record.NewID(at, strings.NewReader("0000000002"))
	require.NoError(t, err)
	o, _, err = l.OpenGolden(ctx, o)
	require.NoError(t, err)
	_, suspicion, _, err := l.CloseGolden(ctx, record.Run{Schema: record.RunSchema, Opening: o, DurationUS: 2, Verdict: record.Fail, Bin: record.BinRework, Reason: "VBUS",
		Checks: []record.Check{{Name: "vbus", Title: "VBUS", Answer: record.Failed, Why: "too high", Value: volts(9), AtUS: 1}}})
	require.NoError(t, err)
	require.Len(t, suspicion.Suspects, 2)
	require.NoError(t, l.Close())
	args := []string{"study", "moments", "--ledger", path, "--check", "vbus"}
	refused(t, "", args, "no value", "2 records under suspicion (--suspects counts them)")
	got := answerOf(t, "", append(args, "--suspects")...)
	require.Equal(t, 2.0, got["n"])
	require.InDelta(t, 5.05, got.number(t, "mean"), 1e-12)
}

func TestLedgerTroubleIsExplained(t *testing.T) {
	explained := errors.New("explained")
	c := NewStudy(func(error) error { return explained })
	c.SetArgs([]string{"moments", "--ledger", filepath.Join(t.TempDir(), "none.db"), "--check", "vbus"})
	c.SilenceErrors, c.SilenceUsage = true, true
	require.ErrorIs(t, c.ExecuteContext(context.Background()), explained)
}
