package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"

	"sinkproof/fixtures"
)

func fourNests(t *testing.T) *Rig {
	t.Helper()
	f, err := fixtures.Shipped("bench-four")
	require.NoError(t, err)
	r, err := NewRig(Config{Wiring: f.Rig, Product: shippedProduct(t, "hand-lamp"), Seed: 1})
	require.NoError(t, err)
	return r
}

// A rig with one nest is what New makes: the same draws, the same voltages.
func TestRigWithOneNestIsATwin(t *testing.T) {
	one := newTwin(t, "hand-lamp", 3)
	r, err := NewRig(Config{Wiring: shippedRig(t), Product: shippedProduct(t, "hand-lamp"), Seed: 3})
	require.NoError(t, err)
	require.Len(t, r.Nests, 1)
	require.Len(t, r.Hardware().Lines, len(one.Hardware().Lines))
	for _, w := range []*Twin{one, r.Nests[0]} {
		require.NoError(t, w.Seat("S1"))
		drive(t, w, 20*time.Millisecond, "k_leg1", "k_leg2", "k_plug", "k_bleed")
		drive(t, w, 200*time.Millisecond, "k_leg1", "k_leg2", "k_plug", "k_bleed", "s_feed")
	}
	require.Equal(t, one.Truth().Vbus(), r.Nests[0].Truth().Vbus())
	require.NoError(t, r.Break(RigFault{Kind: ChipAbsent, Part: "adc1"}))
}

// Nests are drawn for themselves; a unit is the same in each.
func TestNestsAreDrawnForThemselves(t *testing.T) {
	r := fourNests(t)
	rd, contact := map[float64]bool{}, map[float64]bool{}
	for _, n := range r.Nests {
		require.NoError(t, n.Seat("S1"))
		u, ok := n.Truth().Unit()
		require.True(t, ok)
		rd[u.Rd[0]] = true
		volts, err := n.Truth().Volts("leg.out")
		require.NoError(t, err)
		contact[volts] = true
	}
	require.Len(t, rd, 1, "one unit")
	require.Len(t, contact, 4, "four supplies")
}

// One time: what one nest lets pass has passed for the others.
func TestNestsShareTime(t *testing.T) {
	r := fourNests(t)
	require.NoError(t, r.Nests[0].Truth().Pass(time.Second))
	require.Equal(t, time.Second, r.Nests[3].Truth().Now())
	require.Equal(t, time.Second, r.Hardware().Clock.Now())
}

func TestFaultsOfNests(t *testing.T) {
	r := fourNests(t)
	lines := r.Hardware().Lines
	require.NoError(t, r.Break(RigFault{Kind: LidOpened, Part: "nest-3"}))
	require.NoError(t, r.Nests[0].Truth().Pass(time.Millisecond))
	for name, open := range map[string]bool{"lid1": false, "lid2": false, "lid3": true, "lid4": false, "estop": false} {
		require.Equal(t, gpio.Level(!open), lines[name].Read(), "%s is active low", name)
	}
	require.NoError(t, r.Break(RigFault{Kind: StopPressed}))
	require.NoError(t, r.Nests[0].Truth().Pass(time.Millisecond))
	require.Equal(t, gpio.Low, lines["estop"].Read())
	r.Release()
	require.Equal(t, gpio.High, lines["estop"].Read())
	require.Equal(t, gpio.High, lines["lid3"].Read())

	for name, f := range map[string]RigFault{
		"a chip of no nest":   {Kind: ChipAbsent, Part: "adc1"},
		"a nest that is none": {Kind: ChipAbsent, Part: "nest-9/adc1"},
		"a chip that is none": {Kind: ChipAbsent, Part: "nest-1/adc9"},
		"the lid of all":      {Kind: LidOpened},
	} {
		require.ErrorIs(t, r.Break(f), ErrNoSuchName, name)
	}
	require.NoError(t, r.Break(RigFault{Kind: BusDead, Part: "i2c-4"}))
	require.Error(t, r.Hardware().Buses["i2c-4"].Tx(0x48, []byte{1}, nil))
	require.NoError(t, r.Hardware().Buses["i2c-1"].Tx(0x48, []byte{1}, nil))
}
