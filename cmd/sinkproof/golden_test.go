package main

import (
	"context"
	"crypto/rand"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/fixtures/product"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/proving/golden"
)

// readyLine is a station on hardware that is ready for production but for what the
// test takes away.
func readyLine(t *testing.T) (*station, *time.Time) {
	t.Helper()
	s, now := production(t)
	prod, _, err := product.Load(defaultProduct)
	require.NoError(t, err)
	s.papers.product, s.papers.scenario = prod, &scenarios.Scenario{}
	s.random = func(string, int) io.Reader { return rand.Reader }
	s.papers.files = []record.File{
		{Role: record.RoleWiring, Name: "rig", SHA256: s.papers.rig.File.SHA256},
		{Role: record.RoleScenario, Name: "line", SHA256: s.papers.rig.File.SHA256},
	}
	calibrated(t, s, *now)
	require.NoError(t, (&standing{}).choose(context.Background(), s))
	return s, now
}

// golden registers a good board on the line.
func (s *station) golden(t *testing.T, serial string) record.Golden {
	t.Helper()
	f := goldenAdd{serial: serial, by: "A. Engineer", valid: golden.Valid}
	g, err := f.golden(context.Background(), s, record.Expected{Verdict: record.Pass})
	require.NoError(t, err)
	_, err = s.ledger.RegisterGolden(context.Background(), g)
	require.NoError(t, err)
	return g
}

// answers runs the golden unit as if a rig had done it.
func (s *station) answers(t *testing.T, serial string, verdict record.Verdict) {
	t.Helper()
	before, err := s.ledger.GoldenAttempts(context.Background(), serial)
	require.NoError(t, err)
	o, err := s.opening(unit{serial: serial}, before.Runs+1)
	require.NoError(t, err)
	o.Files = append([]record.File{}, o.Files...)
	o.Decision = record.Decision{Rule: record.Simple}
	o, _, err = s.ledger.OpenGolden(context.Background(), o)
	require.NoError(t, err)
	_, _, _, err = s.ledger.CloseGolden(context.Background(), judged(o, verdict))
	require.NoError(t, err)
}

func judged(o record.Opening, verdict record.Verdict) record.Run {
	r := record.Run{Schema: record.RunSchema, Opening: o, Verdict: verdict, Bin: record.BinPass,
		Checks: []record.Check{{Name: "rd", Title: "rd", Answer: record.Passed}}}
	switch verdict {
	case record.Fail:
		r.Bin, r.Checks[0].Answer, r.Checks[0].Why = record.BinRework, record.Failed, "open"
	case record.None:
		r.Bin, r.Reason = record.BinRetest, "lid open"
	}
	return r
}

// refuses demands that production is refused, with a next step.
func (s *station) refuses(t *testing.T, cause error) {
	t.Helper()
	err := (&proven{}).demand(context.Background(), s)
	require.ErrorIs(t, err, cause)
	var o *outcome
	require.ErrorAs(t, err, &o)
	require.Equal(t, exitRefused, o.code)
	require.NotEmpty(t, o.hint)
	require.Empty(t, s.bench.Unproven)
}

func TestProductionStandsOnItsGoldenUnits(t *testing.T) {
	ctx := context.Background()
	s, now := readyLine(t)
	s.refuses(t, golden.ErrNone)
	s.golden(t, "G-1")
	s.golden(t, "G-2")
	s.refuses(t, golden.ErrMissing)
	s.answers(t, "G-1", record.Pass)
	s.refuses(t, golden.ErrMissing)
	s.answers(t, "G-2", record.None)
	s.refuses(t, golden.ErrUnanswered)
	s.answers(t, "G-2", record.Fail)
	s.refuses(t, golden.ErrDeviates)
	s.answers(t, "G-2", record.Pass)
	require.NoError(t, (&proven{}).demand(ctx, s))

	*now = now.Add(golden.Valid - time.Second)
	require.NoError(t, (&proven{}).demand(ctx, s))
	*now = now.Add(time.Second)
	s.refuses(t, golden.ErrOverdue)
	s.answers(t, "G-1", record.Pass)
	s.answers(t, "G-2", record.Pass)
	require.NoError(t, (&proven{}).demand(ctx, s))

	s.papers.files[1].SHA256 = s.papers.rig.File.SHA256[1:] + "0"
	s.refuses(t, golden.ErrOther)
	s.papers.files[1].SHA256 = s.papers.rig.File.SHA256
	s.bench.Calibration = "019b91e4-0b00-7758-9a43-4c211bc6c6bf"
	s.refuses(t, golden.ErrOther)

	require.NoError(t, (&proven{without: "G-1 is with the supplier"}).demand(ctx, s))
	require.Equal(t, "G-1 is with the supplier", s.bench.Unproven)
}

// Two scenarios in turn: each has its own good answer, and one that deviates
// closes both.
func TestGoldenUnitsProveEachScenario(t *testing.T) {
	ctx := context.Background()
	s, _ := readyLine(t)
	s.golden(t, "G-1")
	s.answers(t, "G-1", record.Pass)
	first, second := s.papers.files[1], s.papers.files[1]
	second.SHA256 = second.SHA256[1:] + "0"
	s.papers.files[1] = second
	s.refuses(t, golden.ErrOther)
	s.answers(t, "G-1", record.Pass)
	require.NoError(t, (&proven{}).demand(ctx, s))
	s.papers.files[1] = first
	require.NoError(t, (&proven{}).demand(ctx, s), "its own answer still stands")
	s.papers.files[1] = second
	s.answers(t, "G-1", record.None)
	s.refuses(t, golden.ErrUnanswered)
	s.papers.files[1] = first
	require.NoError(t, (&proven{}).demand(ctx, s))
	s.papers.files[1] = second
	s.answers(t, "G-1", record.Fail)
	s.papers.files[1] = first
	s.refuses(t, golden.ErrDeviates)
	s.answers(t, "G-1", record.Pass)
	require.NoError(t, (&proven{}).demand(ctx, s))
	s.papers.files[1] = second
	s.refuses(t, golden.ErrDeviates)
}

// A reason that nobody needs leaves no trace.
func TestAReasonOnAProvenRigSaysNothing(t *testing.T) {
	s, _ := readyLine(t)
	s.golden(t, "G-1")
	s.answers(t, "G-1", record.Pass)
	require.NoError(t, (&proven{without: "in case"}).demand(context.Background(), s))
	require.Empty(t, s.bench.Unproven)
}

func TestTheTwinNeedsNoGoldenUnitAsLongAsItHasNone(t *testing.T) {
	ctx := context.Background()
	s, _ := readyLine(t)
	s.bench.Kind = record.Twin
	require.NoError(t, (&proven{}).demand(ctx, s))
	s.golden(t, "G-1")
	s.refuses(t, golden.ErrMissing)
	s.answers(t, "G-1", record.Pass)
	require.NoError(t, (&proven{}).demand(ctx, s))
}

// A clock that cannot be trusted refuses, whatever else there is, until a named
// person says that the entries are wrong.
func TestAClockThatCannotBeTrustedRefusesProduction(t *testing.T) {
	ctx := context.Background()
	s, now := readyLine(t)
	refuses := func(f standing) {
		t.Helper()
		err := f.choose(ctx, s)
		require.ErrorIs(t, err, errClock)
		var o *outcome
		require.ErrorAs(t, err, &o)
		require.Equal(t, exitRefused, o.code)
		require.Contains(t, o.hint, "set the clock")
	}
	right := *now
	*now = right.Add(-time.Second)
	refuses(standing{})
	refuses(standing{without: "the reference is away"})
	*now = time.Date(1970, 1, 1, 0, 0, 9, 0, time.UTC)
	refuses(standing{without: "the reference is away"})

	// The clock was a day ahead when a golden unit was registered.
	*now = right.Add(24 * time.Hour)
	s.golden(t, "G-1")
	*now = right.Add(time.Hour)
	refuses(standing{without: "the reference is away"})
	_, err := s.ledger.SetClock(ctx, record.Clock{Bench: s.bench, Made: record.Instant(*now), By: "A. Engineer", Reason: "battery"})
	require.NoError(t, err)
	require.NoError(t, (&standing{}).choose(ctx, s))
	*now = right
	refuses(standing{})
}

// Before anything was ever kept, a clock that lost its battery is seen as well.
func TestAClockBeforeTheProgramIsNotTrusted(t *testing.T) {
	s, now := production(t)
	*now = time.Date(1970, 1, 1, 0, 0, 9, 0, time.UTC)
	_, err := s.trustClock(context.Background())
	require.ErrorIs(t, err, errClock)
	s.bench.Kind = record.Twin
	_, err = s.trustClock(context.Background())
	require.NoError(t, err)
}

// Every record names the calibration that it stands on: a run, a golden run, an
// opening that was cut off.
func TestEveryRecordNamesItsCalibration(t *testing.T) {
	ctx := context.Background()
	s, now := readyLine(t)
	first := s.bench.Calibration
	require.NotEmpty(t, first)
	s.golden(t, "G-1")
	s.answers(t, "G-1", record.Pass)
	run := func(serial string) {
		o, err := s.opening(unit{serial: serial}, 1)
		require.NoError(t, err)
		o.Decision = record.Decision{Rule: record.Simple}
		o, _, err = s.ledger.OpenRun(ctx, o)
		require.NoError(t, err)
		_, err = s.ledger.CloseRun(ctx, judged(o, record.Pass))
		require.NoError(t, err)
	}
	run("U-1")
	*now = now.Add(time.Hour)
	second := calibrated(t, s, *now).ID
	run("U-2") // the station had chosen before
	require.NoError(t, (&standing{}).choose(ctx, s))
	run("U-3")
	require.NoError(t, (&standing{without: "try"}).choose(ctx, s))
	s.bench.Calibration = ""
	run("U-4")

	known := map[string]bool{}
	named := map[string]string{}
	for data, err := range s.ledger.Entries(ctx) {
		require.NoError(t, err)
		e, err := record.DecodeEntry(data)
		require.NoError(t, err)
		doc, err := e.Document()
		require.NoError(t, err)
		switch d := doc.(type) {
		case record.Calibration:
			known[d.ID] = true
		case record.Run:
			named[d.Serial] = d.Bench.Calibration + d.Bench.Uncalibrated
			require.True(t, d.Bench.Uncalibrated != "" || known[d.Bench.Calibration], "entry %d names a calibration that stands before it", e.Seq)
		case record.GoldenRun:
			named[d.Run.Serial] = d.Run.Bench.Calibration
		}
	}
	require.Equal(t, map[string]string{"G-1": first, "U-1": first, "U-2": first, "U-3": second, "U-4": "try"}, named)
}
