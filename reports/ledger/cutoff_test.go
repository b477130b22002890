package ledger

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// cutOff leaves a file behind as a kill amid a transaction does: the pages are
// in the file, the journal that takes them back lies beside it.
func cutOff(t *testing.T, path string) string {
	t.Helper()
	db, err := connect(path, "mode", "rwc", "_pragma", "cache_size(1)")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	tx, err := db.BeginTx(context.Background(), nil)
	require.NoError(t, err)
	defer func() { require.NoError(t, tx.Rollback()) }()
	_, err = tx.Exec("create table half (text text)")
	require.NoError(t, err)
	for range 200 {
		_, err = tx.Exec("insert into half values ($1)", strings.Repeat("x", 4000))
		require.NoError(t, err)
	}
	dead := filepath.Join(t.TempDir(), "bench.ledger")
	for _, end := range []string{"", "-journal"} {
		data, err := os.ReadFile(path + end)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(dead+end, data, 0o600))
	}
	require.True(t, isCutOff(look(context.Background(), dead, "ro")), "a reader may not take it back")
	return dead
}

// A ledger whose making was cut off is made anew at the next start.
func TestALedgerWhoseMakingWasCutOffIsMadeAnew(t *testing.T) {
	path := cutOff(t, filepath.Join(t.TempDir(), "half.ledger"))
	l := reopen(t, path)
	complete(t, l, 1, "LMP-1", record.Pass)
	require.NoError(t, l.Close())
	verify(t, path, VerifyOpts{})
}

// Somebody else's database gets its own transaction back and nothing more.
func TestADatabaseOfSomebodyElseIsRefusedAfterACutAsWell(t *testing.T) {
	path := cutOff(t, foreign(t))
	_, err := Open(context.Background(), path, Opts{Key: benchKey()})
	require.ErrorIs(t, err, ErrNotLedger)
}
