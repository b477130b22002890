package main

import (
	"context"
	"io"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestCalibrationIsInForceUntilItIsDue(t *testing.T) {
	made := time.Date(2026, 5, 4, 7, 30, 0, 0, time.UTC)
	c := record.Calibration{ID: "c-1", Made: record.Instant(made), Due: record.Instant(made.AddDate(1, 0, 0)), Wiring: record.File{SHA256: "ab"}}
	for name, x := range map[string]struct {
		wiring      string
		now, latest time.Time
		want        error
	}{
		"the next day":             {"ab", made.AddDate(0, 0, 1), made, nil},
		"the same instant":         {"ab", made, made, nil},
		"the last second":          {"ab", made.AddDate(1, 0, 0).Add(-time.Second), made, nil},
		"due":                      {"ab", made.AddDate(1, 0, 0), made, errExpired},
		"years later":              {"ab", made.AddDate(3, 0, 0), made, errExpired},
		"the clock was set back":   {"ab", made.Add(-time.Second), made, errClock},
		"no battery for the clock": {"ab", time.Unix(0, 0), made.AddDate(2, 0, 0), errClock},
		"another wiring file":      {"cd", made.AddDate(0, 0, 1), made, errOther},
	} {
		require.ErrorIs(t, inForce(c, x.wiring, x.now, x.latest), x.want, name)
	}
}

// production is a station on hardware with an empty ledger, at an instant that
// the test moves.
func production(t *testing.T) (*station, *time.Time) {
	t.Helper()
	rig, err := loadRig(defaultRig, io.Discard)
	require.NoError(t, err)
	key, err := record.GenerateKey(stream(1, "key"))
	require.NoError(t, err)
	now := time.Date(2026, 5, 4, 7, 30, 0, 0, time.UTC)
	s := &station{papers: &papers{rig: rig, own: true}, screen: newScreen(io.Discard), identity: identity{
		bench: record.Bench{Name: rig.Rig.Name, Kind: record.Hardware, Program: version}, key: key, now: func() time.Time { return now },
	}}
	require.NoError(t, s.openLedger(context.Background(), filepath.Join(t.TempDir(), "ledger.db")))
	t.Cleanup(func() { require.NoError(t, s.ledger.Close()) })
	return s, &now
}

func calibrated(t *testing.T, s *station, made time.Time) record.Calibration {
	t.Helper()
	id, err := record.NewID(made, stream(uint64(made.Unix()), "id"))
	require.NoError(t, err)
	c := record.Calibration{
		ID: id, Bench: s.bench, Made: record.Instant(made), Due: record.Instant(made.AddDate(0, 1, 0)), By: "A. Engineer",
		Wiring: record.File{Role: record.RoleWiring, Name: "rig", SHA256: s.papers.rig.File.SHA256},
		Channels: []record.CalibratedChannel{{Channel: "vbus", Unit: "V", Reference: record.Reference{Name: "meter 7"}, Slope: 1.001,
			Points: []record.CalibratedPoint{{State: "isolated", Reading: 1, Reference: 1.001}}}},
	}
	_, err = s.ledger.Calibrate(context.Background(), c)
	require.NoError(t, err)
	return c
}

func TestProductionStandsOnTheLatestCalibration(t *testing.T) {
	ctx := context.Background()
	s, now := production(t)
	refuses := func(want error) {
		t.Helper()
		err := (&standing{}).choose(ctx, s)
		require.ErrorIs(t, err, want)
		var o *outcome
		require.ErrorAs(t, err, &o)
		require.Equal(t, exitRefused, o.code)
		require.NotEmpty(t, o.hint)
		require.Nil(t, s.papers.calibration)
		require.Empty(t, s.bench.Calibration)
	}
	refuses(errNoCalibration)
	first := calibrated(t, s, *now)
	*now = now.Add(time.Hour)
	second := calibrated(t, s, *now)
	require.NoError(t, (&standing{}).choose(ctx, s))
	require.Equal(t, second.ID, s.bench.Calibration)
	require.Equal(t, second.ID, s.papers.calibration.ID)
	require.NoError(t, (&standing{id: first.ID}).choose(ctx, s), "an earlier one that is in force may be named")
	require.Equal(t, first.ID, s.bench.Calibration)

	s.bench.Calibration, s.papers.calibration = "", nil
	*now = now.Add(-2 * time.Hour)
	refuses(errClock)
	*now = now.AddDate(0, 2, 0)
	refuses(errExpired)
	require.Error(t, (&standing{id: standNone}).choose(ctx, s))
	require.Error(t, (&standing{id: "019b91e4-0b00-7758-9a43-4c211bc6c6bf"}).choose(ctx, s))
	require.Error(t, (&standing{id: standLatest, without: "x"}).choose(ctx, s))
	require.NoError(t, (&standing{without: "the reference is away"}).choose(ctx, s))
	require.Equal(t, "the reference is away", s.bench.Uncalibrated)
	require.Nil(t, s.papers.calibration)
}
