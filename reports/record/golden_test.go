package record

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
)

// golden reads the released chain of a schema version: one entry per line.
func golden(t *testing.T, version string) [][]byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", version, "chain.jsonl"))
	require.NoError(t, err)
	return bytes.Split(bytes.TrimSuffix(data, []byte("\n")), []byte("\n"))
}

// What was once released must verify and decode for ever. These files are
// never made anew: a change that breaks this test needs a new version.
func TestReleasedRecordsVerifyForEver(t *testing.T) {
	for version, want := range map[string]struct {
		entries int64
		head    string
	}{
		"v1": {4, "6a284e4a02aa58ea31ee0f8a3e1de05ce9f2fc96ebb895deaa3593f03c1df105"},
		"v2": {14, "cc49f709b4a284302770bed2c49630fb55db04ade03583c612266b885cfbb8a4"},
		"v3": {3, "9ea4eea66217254a432e15e37e5939e691463652aedabc633bebb1320158590d"},
		"v4": {1, "535d7ce4825468cde597229bf3af8a87f9c486a007663b230a4cbfa535751e41"},
	} {
		t.Run(version, func(t *testing.T) {
			key, err := LoadPublicKey(filepath.Join("testdata", version, "bench.pub"))
			require.NoError(t, err)
			chain := Chain{Keys: append(newChain(t).Keys[:0], key)}
			schemas := map[string]*jsonschema.Schema{}
			for _, v := range []string{EntrySchema, EntrySchema2, EntrySchema3, EntrySchema4} {
				schemas[v] = published(t, v)
			}
			require.NoError(t, chain.Verify(stored(golden(t, version)), func(e Entry) error {
				_, err := e.Document()
				require.NoError(t, err)
				return accepts(t, schemas[e.Schema()], e.Bytes())
			}))
			require.Equal(t, want.entries, chain.Seq)
			require.Equal(t, want.head, chain.Hash)
		})
	}
}

// The released run holds every member of its schema, and decodes to what was
// put in then.
func TestReleasedRunDecodesToWhatWasPutIn(t *testing.T) {
	e, err := DecodeEntry(golden(t, "v1")[1])
	require.NoError(t, err)
	r, err := DecodeRun(e.Body)
	require.NoError(t, err)
	require.Empty(t, cmp.Diff(sampleRun(), r))
}

// Today's program still writes the released bytes from the same inputs.
func TestSameInputsGiveTheReleasedBytes(t *testing.T) {
	require.Equal(t, golden(t, "v1"), sampleChain(t))
	require.Equal(t, golden(t, "v2"), sampleChain2(t))
	require.Equal(t, golden(t, "v3"), sampleChain3(t))
	require.Equal(t, golden(t, "v4"), sampleChain4(t))
}
