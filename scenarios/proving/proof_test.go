package proving_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
	"sinkproof/scenarios/proving"
)

// simulated is a twin of the shipped rig.
func simulated(t testing.TB) *twin.Twin {
	t.Helper()
	p, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	w, err := twin.New(twin.Config{Wiring: benchOne(t), Product: p, Seed: 3})
	require.NoError(t, err)
	return w
}

// confirm has the bench of a twin proved after it was broken.
func confirm(t testing.TB, p *proving.Proof, w *twin.Twin, faults ...twin.RigFault) ([]proving.Finding, time.Duration) {
	t.Helper()
	for _, f := range faults {
		require.NoError(t, w.Break(f))
	}
	hw := w.Hardware()
	start := hw.Clock.Now()
	found, err := p.Confirm(t.Context(), hw, nil)
	require.NoError(t, err)
	took := hw.Clock.Now() - start
	require.NoError(t, w.Truth().Err())
	w.Mend()
	return found, took
}

// A sound bench is proved as often as one likes; a fault is named, and the next
// proof of the mended bench finds nothing again.
func TestABenchProvesItself(t *testing.T) {
	p := proving.NewProof(benchOne(t))
	w := simulated(t)
	for range 2 {
		found, took := confirm(t, p, w)
		require.Empty(t, found)
		require.Less(t, took, 12*time.Second)
	}
	found, _ := confirm(t, p, w, twin.RigFault{Kind: twin.ContactStuckOpen, Part: "k_cut", Index: 1})
	require.Len(t, found, 1)
	require.Contains(t, found[0].String(), "k_cut")
	found, _ = confirm(t, p, w)
	require.Empty(t, found)
}

// No seated unit lets one see the contacts of the data pair; an empty nest shows
// every one of them, by name.
func TestAnEmptyNestShowsEveryContactOfTheDataPair(t *testing.T) {
	rig := benchOne(t)
	p := proving.NewProof(rig)
	w := simulated(t)
	for _, name := range []string{"k_flip2", "k_dshort", "k_dhost", "k_data"} {
		k, ok := rig.Relay(name)
		require.True(t, ok, name)
		for j, c := range k.Contacts {
			kinds := []twin.RigFaultKind{twin.ContactWelded, twin.ContactStuckOpen}
			if c.NC != "" {
				kinds = append(kinds, twin.ContactRestOpen, twin.ContactRestWeld)
			}
			for _, kind := range kinds {
				found, _ := confirm(t, p, w, twin.RigFault{Kind: kind, Part: name, Index: j})
				require.Len(t, found, 1, "%s %s %s", kind, name, c.Name)
				require.Len(t, found[0].Suspects, 1, "%s %s %s: %s", kind, name, c.Name, found[0])
				s := found[0].Suspects[0]
				require.Equal(t, name, s.Thing)
				if len(k.Contacts) > 1 {
					require.Equal(t, c.Name, s.Part)
				}
			}
		}
	}
}

func TestPinsAreProvedAfterTheEmptyNest(t *testing.T) {
	p, w := proving.NewProof(benchOne(t)), simulated(t)
	_, err := p.ConfirmPins(t.Context(), w.Hardware(), nil)
	require.ErrorIs(t, err, proving.ErrNotConfirmed)
	confirm(t, p, w)
	confirm(t, p, w, twin.RigFault{Kind: twin.ContactWelded, Part: "k_ccc"})
	_, err = p.ConfirmPins(t.Context(), w.Hardware(), nil)
	require.ErrorIs(t, err, proving.ErrNotConfirmed, "the last empty nest was not sound")
}

// A stop that is pressed in mid-proof ends it: a proof has no hands that could be
// asked to release it.
func TestAStopEndsAProof(t *testing.T) {
	for _, kind := range []twin.RigFaultKind{twin.StopPressed, twin.LidOpened} {
		p, w := proving.NewProof(benchOne(t)), simulated(t)
		hw := w.Hardware()
		require.NoError(t, w.Break(twin.RigFault{Kind: kind, At: hw.Clock.Now() + time.Second}))
		_, err := p.Confirm(t.Context(), hw, nil)
		var lock *bench.Interlock
		require.ErrorAs(t, err, &lock, kind)
		require.NotEmpty(t, lock.Hint)
	}
}

// What a wiring file lacks for a proof is said.
func TestProvable(t *testing.T) {
	whole := benchOne(t)
	itself, pins := proving.Provable(whole)
	require.NoError(t, errors.Join(itself, pins))
	without := func(prefix string) *wiring.Rig {
		w := *whole
		w.Conditions = slices.DeleteFunc(slices.Clone(whole.Conditions), func(c wiring.Condition) bool { return strings.HasPrefix(c.Name, prefix) })
		return &w
	}
	itself, pins = proving.Provable(without("self-test"))
	require.ErrorIs(t, itself, proving.ErrNoSelfTest)
	require.ErrorIs(t, pins, proving.ErrNoSeatedTest)
	itself, pins = proving.Provable(without("self-test-seated"))
	require.NoError(t, itself)
	require.ErrorIs(t, pins, proving.ErrNoSeatedTest)
	bare := *whole
	bare.Nest.Check = nil
	_, pins = proving.Provable(&bare)
	require.ErrorIs(t, pins, proving.ErrNoReceptacle)
}

func BenchmarkConfirm(b *testing.B) {
	p := proving.NewProof(benchOne(b))
	w := simulated(b)
	for b.Loop() {
		found, _ := confirm(b, p, w)
		require.Empty(b, found)
	}
}
