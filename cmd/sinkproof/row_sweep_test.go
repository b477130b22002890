//go:build !race

package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// at breaks the rig at an instant of its clock.
func (s *deployedRow) at(t *testing.T, at time.Duration, f twin.RigFault) {
	t.Helper()
	f.At = at
	require.NoError(t, s.rig.Break(f))
}

// midRun is in the middle of the first run of every nest.
const midRun = 4 * time.Second

// TestSweepNestsAreJudgedForThemselves: four nests, two units each, one chain in the
// order of commit; every record names its nest.
func TestSweepNestsAreJudgedForThemselves(t *testing.T) {
	s := deployRow(t, nestPapers(t), nil)
	s.nests[2].handler.(*simulated).truth["N3-1"] = []twin.Fault{{Name: "no-rd"}}
	s.units(2)
	require.Empty(t, s.run(t.Context()))
	require.Len(t, s.runs, 8)
	for serial, run := range s.runs {
		want := record.Pass
		if serial == "N3-1" {
			want = record.Fail
		}
		require.Equal(t, want, run.Verdict, "%s: %s", serial, run.Reason)
		require.Equal(t, fmt.Sprintf("N%d", run.Nest), serial[:2], "the record names its nest")
	}
	for i := 1; i < len(s.seqs); i++ {
		require.Greater(t, s.seqs[i], s.seqs[i-1], "in the order of commit")
	}
}

func TestSweepStopInMidRunEndsEveryNest(t *testing.T) {
	s := deployRow(t, nestPapers(t), nil)
	s.units(2)
	s.at(t, midRun, twin.RigFault{Kind: twin.StopPressed})
	errs := s.run(t.Context())
	require.Len(t, errs, 4, "the next units are refused")
	require.Len(t, s.runs, 4)
	for serial, run := range s.runs {
		require.Equal(t, record.None, run.Verdict, serial)
		require.Contains(t, run.Reason, "emergency stop")
	}
	require.Equal(t, exitRefused, report(io.Discard, worst(nil, errs)))
}

func TestSweepLidInMidRunEndsItsOwnNest(t *testing.T) {
	s := deployRow(t, nestPapers(t), nil)
	s.units(2)
	s.at(t, midRun, twin.RigFault{Kind: twin.LidOpened, Part: "nest-2", For: 30 * time.Millisecond})
	require.Empty(t, s.run(t.Context()), "the lid is shut again for the next unit")
	require.Len(t, s.runs, 8)
	for serial, run := range s.runs {
		if serial == "N2-1" {
			require.Equal(t, record.None, run.Verdict)
			require.Contains(t, run.Reason, "lid2")
			continue
		}
		require.Equal(t, record.Pass, run.Verdict, "%s: %s", serial, run.Reason)
	}
}

// TestSweepDeadChipInMidRun: the unit of that nest has no verdict and its next one is
// not taken; the others do not notice.
func TestSweepDeadChipInMidRun(t *testing.T) {
	var s *deployedRow
	died := false
	s = deployRow(t, nestPapers(t), func(at time.Duration) {
		if at > midRun && !died {
			died = true
			require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-4/adc1"}))
		}
	})
	s.units(2)
	errs := s.run(t.Context())
	require.Len(t, errs, 1)
	require.ErrorContains(t, errs[0], "nest-4")
	require.ErrorContains(t, errs[0], "adc1")
	require.Equal(t, exitNoJudge, report(io.Discard, worst(nil, errs)))
	for serial, run := range s.runs {
		want := record.Pass
		if run.Nest == 4 {
			want = record.None
		}
		require.Equal(t, want, run.Verdict, "%s: %s", serial, run.Reason)
	}
	require.Len(t, s.runs, 7)
}

// TestSweepHungBusInMidRun: the one loop is held up, every nest loses its coils and no
// unit its good name; the next units are taken as if nothing had been.
func TestSweepHungBusInMidRun(t *testing.T) {
	var s *deployedRow
	hung := false
	s = deployRow(t, nestPapers(t), func(at time.Duration) {
		if at > midRun && !hung {
			hung = true
			require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.BusHang, Part: "i2c-1", Index: 1, For: 300 * time.Millisecond}))
		}
	})
	s.units(2)
	require.Empty(t, s.run(t.Context()))
	for serial, run := range s.runs {
		want := record.Pass
		if strings.HasSuffix(serial, "-1") {
			want = record.None
			require.Contains(t, run.Reason, "heartbeat")
		}
		require.Equal(t, want, run.Verdict, "%s: %s", serial, run.Reason)
	}
}

// TestSweepNestThatDoesNotOpen: it is out of service, and its units are not taken; the
// others are.
func TestSweepNestThatDoesNotOpen(t *testing.T) {
	s := deployRow(t, nestPapers(t), nil)
	require.NoError(t, s.rig.Break(twin.RigFault{Kind: twin.ChipAbsent, Part: "nest-1/out2"}))
	require.NoError(t, s.try(t.Context()))
	errs := s.run(t.Context())
	require.Len(t, errs, 1)
	require.ErrorContains(t, errs[0], "nest-1")
	require.Len(t, s.runs, 3)
	for serial, run := range s.runs {
		require.Equal(t, record.Pass, run.Verdict, "%s: %s", serial, run.Reason)
	}
}

// TestSweepKilledInMidRun: of a program that is killed while all nests are busy, the
// ledger shows four runs that were begun; the next start closes them as interrupted.
func TestSweepKilledInMidRun(t *testing.T) {
	var s *deployedRow
	left := filepath.Join(t.TempDir(), "ledger.db")
	killed := false
	s = deployRow(t, nestPapers(t), func(at time.Duration) {
		if at < midRun || killed {
			return
		}
		killed = true
		for _, end := range []string{"", "-wal", "-shm"} {
			data, err := os.ReadFile(s.path + end)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(left+end, data, 0o600))
		}
	})
	require.Empty(t, s.run(t.Context()))
	require.True(t, killed)
	again, err := ledger.Open(t.Context(), left, ledger.Opts{Key: s.like.key})
	require.NoError(t, err)
	require.Len(t, again.Interrupted, 4)
	require.NoError(t, again.Close())
	verifyLedger(t, left, record.Public(s.like.key))
}
