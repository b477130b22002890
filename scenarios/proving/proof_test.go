package proving_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/twin"
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

func BenchmarkConfirm(b *testing.B) {
	p := proving.NewProof(benchOne(b))
	w := simulated(b)
	for b.Loop() {
		found, _ := confirm(b, p, w)
		require.Empty(b, found)
	}
}
