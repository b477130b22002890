package ledger

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func calibration(t testing.TB, n int, kind string) record.Calibration {
	t.Helper()
	o := opening(n, "X")
	return record.Calibration{
		ID: o.ID, Bench: record.Bench{Name: "bench 3", Kind: kind, Program: "0.1.0"}, Made: o.Started, Due: "2027-05-04T00:00:00Z",
		By: "A. Engineer", Wiring: record.File{Role: record.RoleWiring, Name: "rig", SHA256: strings.Repeat("0a", 32)},
		Channels: []record.CalibratedChannel{{Channel: "vbus", Unit: "V", Reference: record.Reference{Name: "meter 7"},
			Points: []record.CalibratedPoint{{State: "isolated", Reading: 1, Reference: 1}}, Slope: 1}},
	}
}

func TestCalibrationsStandInTheChainAmongRuns(t *testing.T) {
	ctx := context.Background()
	l := NewLedger(t)
	latest, err := l.Latest(ctx)
	require.NoError(t, err)
	require.True(t, latest.IsZero())
	complete(t, l, 1, "LMP-1", record.Pass)
	first, second := calibration(t, 2, record.Hardware), calibration(t, 4, record.Hardware)
	_, err = l.Calibrate(ctx, first)
	require.NoError(t, err)
	complete(t, l, 3, "LMP-1", record.Pass)
	_, err = l.Calibrate(ctx, second)
	require.NoError(t, err)
	_, err = l.Calibrate(ctx, calibration(t, 5, record.Twin))
	require.NoError(t, err)
	_, err = l.Calibrate(ctx, second)
	require.ErrorIs(t, err, ErrRun)

	list, err := l.Calibrations(ctx, first.Bench)
	require.NoError(t, err)
	require.Equal(t, []record.Calibration{first, second}, list)
	rows, err := l.History(ctx, "LMP-1")
	require.NoError(t, err)
	require.Len(t, rows, 2, "a calibration is no run")
	standing, err := l.Attempts(ctx, "")
	require.NoError(t, err)
	require.Zero(t, standing.Runs)
	latest, err = l.Latest(ctx)
	require.NoError(t, err)
	require.Equal(t, time.Date(2026, 5, 4, 7, 30, 5, 250_000_000, time.UTC), latest)
	require.NoError(t, l.Close())

	n, err := Rebuild(ctx, l.path)
	require.NoError(t, err)
	require.EqualValues(t, 7, n)
	report := verify(t, l.path, VerifyOpts{AllowTwin: true})
	require.EqualValues(t, 3, report.Calibrations)
	_, err = tryVerify(t, l.path, VerifyOpts{})
	require.ErrorIs(t, err, ErrTwin)
}
