package twin

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// story is what a contact did: instants with its state, seen every 10 µs.
type story struct {
	at     []time.Duration
	no, nc []bool
}

// follow records a contact for a while after a coil was switched.
func follow(t require.TestingT, w *Twin, relay string, contact int, d time.Duration) story {
	k, err := w.relay(relay)
	require.NoError(t, err)
	var s story
	begin := w.base.Now()
	for at := time.Duration(0); at <= d; at += 10 * time.Microsecond {
		require.NoError(t, w.reach(background(), begin+at))
		c := &k.contacts[contact]
		if n := len(s.at); n == 0 || s.no[n-1] != c.madeNO || s.nc[n-1] != c.madeNC {
			s.at, s.no, s.nc = append(s.at, at), append(s.no, c.madeNO), append(s.nc, c.madeNC)
		}
	}
	return s
}

// Times stay within the longest times of the wiring file, over many rigs: the
// contact lands within 4 ms and has stopped bouncing 3 ms later.
func TestContactsLandWithinTheirTimes(t *testing.T) {
	rig, lamp := shippedRig(t), shippedProduct(t, "hand-lamp")
	bounced := 0
	for seed := range uint64(12) {
		w, err := New(Config{Wiring: rig, Product: lamp, Seed: seed})
		require.NoError(t, err)
		require.NoError(t, w.Truth().Drive("k_leg1"))
		s := follow(t, w, "k_leg1", 0, 10*time.Millisecond)
		require.GreaterOrEqual(t, len(s.at), 2, "it bounces at least once, or lands")
		require.Greater(t, s.at[1], time.Millisecond)
		require.LessOrEqual(t, s.at[1], 4*time.Millisecond)
		require.LessOrEqual(t, s.at[len(s.at)-1], 7*time.Millisecond)
		require.True(t, s.no[len(s.no)-1])
		if len(s.at) > 2 {
			bounced++
		}
		require.NoError(t, w.Truth().Drive())
		s = follow(t, w, "k_leg1", 0, 10*time.Millisecond)
		require.Len(t, s.at, 2, "opening does not bounce")
		require.LessOrEqual(t, s.at[1], 4*time.Millisecond)
		moves, err := w.Truth().Moves("k_leg1")
		require.NoError(t, err)
		require.Equal(t, 1, moves)
	}
	require.Equal(t, 12, bounced)
}

// A contact that joins nothing to nothing bounces unseen, and the twin does not
// play that out; one that joins a voltage does bounce.
func TestOnlyFeltBounceIsPlayed(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Truth().Drive("k_load"))
	require.Len(t, follow(t, w, "k_load", 0, 10*time.Millisecond).at, 2)
	require.NoError(t, w.Truth().Drive("k_load", "k_pv1"))
	require.Greater(t, len(follow(t, w, "k_pv1", 0, 10*time.Millisecond).at), 2)
}

// A form C relay opens the old contact before it closes the new one (facts,
// section 10): at no instant are both closed, and between them both are open
// long enough for a source to see an open CC wire.
func TestChangeOverBreaksBeforeMake(t *testing.T) {
	w := newTwin(t, "hand-lamp", 4)
	for _, coil := range [][]string{{"k_flip1"}, nil} {
		require.NoError(t, w.Truth().Drive(coil...))
		for contact := range 2 {
			s := follow(t, w, "k_flip1", contact, 5*time.Millisecond)
			for i := range s.at {
				require.False(t, s.no[i] && s.nc[i])
			}
			if contact == 0 {
				require.GreaterOrEqual(t, len(s.at), 3)
				require.False(t, s.no[1] || s.nc[1], "on neither side")
				require.Greater(t, s.at[2]-s.at[1], 200*time.Microsecond)
			}
		}
		require.NoError(t, w.Truth().Pass(10*time.Millisecond))
		no, nc, err := w.Truth().Made("k_flip1", 0)
		require.NoError(t, err)
		require.Equal(t, coil != nil, no)
		require.Equal(t, coil == nil, nc)
	}
}

// A solid-state switch neither bounces nor passes more than its limit: 1.2 A
// of the shipped rig into a short.
func TestFeedSwitchLimitsItsCurrent(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.NoError(t, w.Seat("S1", Fault{Name: "vbus-gnd-short"}.Severe(1)))
	path := []string{"k_leg1", "k_leg2", "k_plug", "k_bleed", "k_range"}
	drive(t, w, 30*time.Millisecond, path...)
	require.NoError(t, w.Truth().Drive(append(path, "s_feed")...))
	s := follow(t, w, "s_feed", 0, 5*time.Millisecond)
	require.Len(t, s.at, 2)
	hi, err := w.Truth().Volts("meter.hi")
	require.NoError(t, err)
	mid, err := w.Truth().Volts("meter.mid")
	require.NoError(t, err)
	require.InEpsilon(t, 1.2, (hi-mid)/0.1, 0.002, "through the 0.1 Ω shunt")
}

func TestWeldedAndStuckContacts(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	made := func(relay string) (bool, bool) {
		no, nc, err := w.Truth().Made(relay, 0)
		require.NoError(t, err)
		return no, nc
	}
	require.NoError(t, w.Break(RigFault{Kind: ContactWelded, Part: "k_leg1"}))
	require.NoError(t, w.Break(RigFault{Kind: ContactStuckOpen, Part: "k_leg2"}))
	require.NoError(t, w.Break(RigFault{Kind: ContactWelded, Part: "k_flip1"}))
	drive(t, w, 20*time.Millisecond, "k_leg2")
	no, _ := made("k_leg1")
	require.True(t, no, "welded though its coil is off")
	no, _ = made("k_leg2")
	require.False(t, no, "stuck though its coil is on")
	no, nc := made("k_flip1")
	require.True(t, no)
	require.False(t, nc, "an armature cannot be on both sides")
	leg, err := w.Truth().Volts("leg.mid")
	require.NoError(t, err)
	require.Greater(t, leg, 4.9, "seen in the circuit")
	w.Mend()
	no, _ = made("k_leg1")
	require.False(t, no)
	no, _ = made("k_leg2")
	require.True(t, no)
}

// Coils that change at any instants: in the end every contact stands where its
// coil says, and no change-over contact was ever on both sides.
func TestRelaysFollowTheirCoils(t *testing.T) {
	rig, lamp := shippedRig(t), shippedProduct(t, "hand-lamp")
	rapid.Check(t, func(r *rapid.T) {
		w, err := New(Config{Wiring: rig, Product: lamp, Seed: rapid.Uint64().Draw(r, "seed")})
		require.NoError(r, err)
		on := false
		for i := range rapid.IntRange(1, 6).Draw(r, "moves") {
			on = !on
			var coils []string
			if on {
				coils = []string{"k_flip1", "k_cut"}
			}
			require.NoError(r, w.Truth().Drive(coils...))
			s := follow(r, w, "k_flip1", i%2, time.Duration(rapid.IntRange(0, 900).Draw(r, "pause"))*10*time.Microsecond)
			for i := range s.at {
				require.False(r, s.no[i] && s.nc[i])
			}
		}
		require.NoError(r, w.Truth().Pass(10*time.Millisecond))
		for _, relay := range []string{"k_flip1", "k_cut"} {
			for contact := range 2 {
				no, nc, err := w.Truth().Made(relay, contact)
				require.NoError(r, err)
				require.Equal(r, on, no, fmt.Sprint(relay, contact))
				require.Equal(r, !on && relay == "k_flip1", nc)
			}
		}
		require.NoError(r, w.Truth().Err())
	})
}
