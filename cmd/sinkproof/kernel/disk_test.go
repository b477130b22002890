package kernel

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// sector is one sector full of a byte.
func sector(b byte) []byte { return bytes.Repeat([]byte{b}, sectorSize) }

func TestADiskFailsAmidItsWrites(t *testing.T) {
	path := filepath.Join(t.TempDir(), "disk.img")
	require.NoError(t, os.WriteFile(path, make([]byte, 64*sectorSize), 0o600))
	d, err := OpenPlatter(path)
	require.NoError(t, err)
	_, err = d.WriteAt(sector(1), 0)
	require.NoError(t, err)
	require.NoError(t, d.Flush())

	const writes = 20
	failed := d.FailAfter(writes)
	for i := range int64(writes) {
		select {
		case <-failed:
			require.Fail(t, "the power fails too early", "%d", i)
		default:
		}
		_, err := d.WriteAt(sector(2), (i+1)*sectorSize)
		require.NoError(t, err)
	}
	<-failed
	_, err = d.WriteAt(sector(3), 0)
	require.ErrorIs(t, err, ErrPowerless)
	require.ErrorIs(t, d.Flush(), ErrPowerless, "or what was lost would be acknowledged")
	lost, err := d.Cut(rand.New(rand.NewPCG(1, 2)))
	require.NoError(t, err)

	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, sector(1), kept[:sectorSize], "what was flushed is there")
	require.Equal(t, writes-lost, bytes.Count(kept, sector(2)))
	require.Greater(t, lost, 0)
	require.Less(t, lost, writes)
}
