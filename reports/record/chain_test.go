package record

import (
	"crypto/ed25519"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// stored yields entries as a ledger does.
func stored(chain [][]byte) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		for _, data := range chain {
			if !yield(data, nil) {
				return
			}
		}
	}
}

func newChain(t testing.TB) *Chain {
	return &Chain{Keys: []ed25519.PublicKey{Public(sampleKey(t))}}
}

func TestAWholeChainVerifies(t *testing.T) {
	chain := newChain(t)
	var kinds []Kind
	require.NoError(t, chain.Verify(stored(sampleChain(t)), func(e Entry) error {
		kinds = append(kinds, e.Kind)
		return nil
	}))
	require.Equal(t, []Kind{RunOpened, RunClosed, RunOpened, RunInterrupted}, kinds)
	require.EqualValues(t, 4, chain.Seq)
	last, err := DecodeEntry(sampleChain(t)[3])
	require.NoError(t, err)
	require.Equal(t, last.Hash, chain.Hash)
	require.NoError(t, newChain(t).Verify(stored(nil), nil), "an empty chain is whole")
}

// forked returns an entry 3 that follows another entry 2 than the chain's,
// signed with the right key.
func forked(t *testing.T) []byte {
	key := sampleKey(t)
	first, err := Seal(nil, sampleOpening(), key)
	require.NoError(t, err)
	rewritten := sampleRun()
	rewritten.Reason = "a kinder story"
	second, err := Seal(&first, rewritten, key)
	require.NoError(t, err)
	third, err := Seal(&second, sampleInterruption(), key)
	require.NoError(t, err)
	return third.Bytes()
}

func TestTheFirstTroubleIsNamed(t *testing.T) {
	other, err := GenerateKey(strings.NewReader(strings.Repeat("y", 32)))
	require.NoError(t, err)
	resigned, err := Seal(nil, sampleOpening(), other)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		change func([][]byte) [][]byte
		cause  error
		says   string
		good   int64
	}{
		"a digit changed": {func(c [][]byte) [][]byte {
			c[1] = []byte(strings.Replace(string(c[1]), "5103.25", "5103.26", 1))
			return c
		}, ErrAltered, "entry 2: content hashes to", 1},
		"form changed": {func(c [][]byte) [][]byte {
			c[1] = append(c[1], ' ')
			return c
		}, ErrAltered, "entry 2:", 1},
		"first one gone":     {func(c [][]byte) [][]byte { return c[1:] }, ErrMissing, "entry 1: missing", 0},
		"one gone":           {func(c [][]byte) [][]byte { return slices.Delete(c, 1, 2) }, ErrMissing, "entry 2: missing, entry 3 stands", 1},
		"two swapped":        {func(c [][]byte) [][]byte { c[1], c[2] = c[2], c[1]; return c }, ErrMisplaced, "entry 2: out of order", 1},
		"one moved back":     {func(c [][]byte) [][]byte { return append(slices.Delete(slices.Clone(c), 1, 2), c[1]) }, ErrMisplaced, "entry 2: out of order", 1},
		"one twice":          {func(c [][]byte) [][]byte { return slices.Insert(c, 2, c[1]) }, ErrMisplaced, "entry 2: out of order, it stands where entry 3", 2},
		"another history":    {func(c [][]byte) [][]byte { c[2] = forked(t); return c }, ErrFork, "entry 3: follows an entry with hash", 2},
		"signed by another":  {func(c [][]byte) [][]byte { c[0] = resigned.Bytes(); return c }, ErrKey, "entry 1: signed with key", 0},
		"entry made of junk": {func(c [][]byte) [][]byte { c[3] = []byte("junk"); return c }, ErrAltered, "entry 4:", 3},
	} {
		t.Run(name, func(t *testing.T) {
			chain := newChain(t)
			err := chain.Verify(stored(c.change(sampleChain(t))), nil)
			require.ErrorIs(t, err, c.cause)
			require.ErrorContains(t, err, c.says)
			require.Equal(t, c.good, chain.Seq, "the chain stands at the last good entry")
		})
	}
}

func TestATroubleOfTheStoreOrTheCallerIsPassedOn(t *testing.T) {
	torn := errors.New("disk is torn")
	err := newChain(t).Verify(func(yield func([]byte, error) bool) { yield(nil, torn) }, nil)
	require.ErrorIs(t, err, torn)
	enough := errors.New("enough")
	err = newChain(t).Verify(stored(sampleChain(t)), func(Entry) error { return enough })
	require.ErrorIs(t, err, enough)
}

// Many entries that are sealed at once are those that are sealed one by one.
func TestSealAllIsSealOneByOne(t *testing.T) {
	var docs []Document
	var want []Entry
	var prev *Entry
	for n := range 7 {
		o := sampleOpening()
		o.Serial = fmt.Sprintf("LMP-%d", n)
		docs = append(docs, o)
		e, err := Seal(prev, o, sampleKey(t))
		require.NoError(t, err)
		want, prev = append(want, e), &e
	}
	got, err := SealAll(nil, docs, sampleKey(t))
	require.NoError(t, err)
	require.Equal(t, want, got)
	after, err := SealAll(&want[2], docs[3:], sampleKey(t))
	require.NoError(t, err)
	require.Equal(t, want[3:], after)

	docs[4] = Opening{}
	_, err = SealAll(nil, docs, sampleKey(t))
	require.ErrorIs(t, err, ErrInvalid)
}
