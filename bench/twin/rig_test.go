package twin

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
)

// shippedRig and shippedProduct are what the twin is tested on.
func shippedRig(t testing.TB) *wiring.Rig {
	f, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	return f.Rig
}

func shippedProduct(t testing.TB, name string) *product.Product {
	p, _, err := product.Shipped(name)
	require.NoError(t, err)
	return p
}

// kit is a rig and a product, read once for a test that makes many twins.
type kit struct {
	rig     *wiring.Rig
	product *product.Product
}

func newKit(t testing.TB, name string) kit { return kit{shippedRig(t), shippedProduct(t, name)} }

// newTwin returns a twin of the shipped rig that proves at the end of the
// test that its circuit was solved throughout.
func newTwin(t testing.TB, name string, seed uint64) *Twin { return newKit(t, name).twin(t, seed) }

func (k kit) twin(t testing.TB, seed uint64) *Twin {
	w, err := New(Config{Wiring: k.rig, Product: k.product, Seed: seed})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, w.Truth().Err()) })
	return w
}

// drive sets the relays and lets time pass.
func drive(t testing.TB, w *Twin, d time.Duration, on ...string) {
	require.NoError(t, w.Truth().Drive(on...))
	require.NoError(t, w.Truth().Pass(d))
}

// A legacy A supply has 5 V at all times, so a unit charges from it; its pull-up
// of 56 kΩ shows 0.417 V at nominal values (USB Type-C facts: A-to-C cable).
func TestLegacySupplyCharges(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1"))
	path := []string{"k_leg1", "k_leg2", "k_plug", "k_bleed", "k_lcc", "k_cut", "k_dshort", "k_range", "k_cell1", "k_cell2", "sel_cell1"}
	drive(t, w, 30*time.Millisecond, path...)
	require.Less(t, w.Truth().Vbus(), 0.01)
	drive(t, w, 300*time.Millisecond, append(path, "s_feed")...)
	unit, _ := w.Truth().Unit()
	require.InDelta(t, unit.FastCurrent, w.Truth().CellAmperes(), 1e-6)
	require.Equal(t, "constant current", w.Truth().Charger())
	cc1, err := w.Truth().Volts("plug.cc1")
	require.NoError(t, err)
	require.InEpsilon(t, 0.417, cc1, 0.1)
}

func logOf(x float64) float64 { return math.Log(x) }

func background() context.Context { return context.Background() }
