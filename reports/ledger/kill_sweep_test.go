//go:build !race

package ledger

import (
	"context"
	"crypto/ed25519"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// Whenever the program is killed, the ledger verifies and holds every entry
// that was acknowledged; what the next start finds open it closes as
// interrupted. That the bytes survive a loss of power as well rests on the
// disk keeping what it was told to sync (TestCommitsAreSynced).
func TestSweepKilledAtAHundredInstants(t *testing.T) {
	schema, err := newValidator()
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(20, 26))
	path := ""
	acknowledged := map[int64]string{}
	for kill := range 100 {
		if kill%5 == 0 {
			// A new file now and then, so that its making is hit as well.
			path = filepath.Join(t.TempDir(), "bench.ledger")
			clear(acknowledged)
		}
		after := random.IntN(5)
		delay := time.Duration(random.Int64N(int64(3 * time.Millisecond)))
		if after == 0 {
			delay = time.Duration(random.Int64N(int64(40 * time.Millisecond)))
		}
		for seq, hash := range killed(t, path, after, delay) {
			acknowledged[seq] = hash
		}
		demandAll(t, path, schema, acknowledged, kill)
	}
}

// The same for records that come in by the many; and whenever it is killed, the
// columns beside the ledger have what it has, no run more and none less.
func TestSweepKilledWhileSimulating(t *testing.T) {
	schema, err := newValidator()
	require.NoError(t, err)
	random := rand.New(rand.NewPCG(20, 27))
	path := filepath.Join(t.TempDir(), "bench.ledger")
	acknowledged := map[int64]string{}
	for kill := range 15 {
		delay := time.Duration(random.Int64N(int64(20 * time.Millisecond)))
		for seq, hash := range killed(t, path, 1+random.IntN(3), delay, victimMany+"=yes") {
			acknowledged[seq] = hash
		}
		demandAll(t, path, schema, acknowledged, kill)
		v := openValues(t, path)
		y, err := v.Yield(context.Background(), Question{})
		require.NoError(t, err, "kill %d", kill)
		last, err := v.view.last(context.Background())
		require.NoError(t, err)
		require.EqualValues(t, last, 2*y.Runs, "kill %d", kill)
	}
	require.NotEmpty(t, acknowledged)
}

// demandAll verifies the ledger and looks for every acknowledged entry.
func demandAll(t *testing.T, path string, schema *validator, acknowledged map[int64]string, kill int) {
	t.Helper()
	v, err := OpenView(context.Background(), path)
	if errors.Is(err, ErrAccess) || errors.Is(err, ErrNotLedger) {
		require.Empty(t, acknowledged, "kill %d: killed before the ledger was made: %v", kill, err)
		return
	}
	require.NoError(t, err)
	kept := map[int64]string{}
	report, err := v.verify(context.Background(), VerifyOpts{AllowTwin: true, Keys: []ed25519.PublicKey{record.Public(benchKey())}}, schema)
	require.NoError(t, err, "kill %d", kill)
	require.LessOrEqual(t, report.Open(), int64(1), "kill %d", kill)
	for data, err := range v.Entries(context.Background()) {
		require.NoError(t, err)
		e, err := record.DecodeEntry(data)
		require.NoError(t, err)
		kept[e.Seq] = e.Hash
	}
	require.NoError(t, v.Close())
	for seq, hash := range acknowledged {
		require.Equal(t, hash, kept[seq], "kill %d: acknowledged entry %d is lost or another", kill, seq)
	}
}
