package twin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
)

// volts returns the voltage of a net.
func volts(t testing.TB, w *Twin, net string) float64 {
	v, err := w.Truth().Volts(net)
	require.NoError(t, err)
	return v
}

// supplyState returns what a supply does.
func supplyState(t testing.TB, w *Twin, name string) string {
	s, err := w.Truth().Supply(name)
	require.NoError(t, err)
	return s
}

// first lets time go by in steps until a condition is true, and returns when.
func first(t testing.TB, w *Twin, within time.Duration, true_ func() bool) time.Duration {
	begin := w.Truth().Now()
	for w.Truth().Now()-begin < within {
		require.NoError(t, w.Truth().Pass(500*time.Microsecond))
		if true_() {
			return w.Truth().Now() - begin
		}
	}
	t.Fatalf("not true within %v", within)
	return 0
}

// A legacy A supply has 5 V at all times and cannot see a unit: facts of the
// trade; vbus_legacy_hp 4.75 to 5.25 V is what the file's 5.1 V ± 3 % lies in.
func TestLegacySupplyIsAlwaysOn(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.InDelta(t, 5.1, volts(t, w, "leg.out"), 0.16)
	require.NoError(t, w.Seat("S1", Fault{Name: "no-rd"}))
	drive(t, w, time.Second)
	require.InDelta(t, 5.1, volts(t, w, "leg.out"), 0.16)
	require.Equal(t, "on", supplyState(t, w, "legacy"))
}

// attachTwin makes a rig of a seed with a unit, cell on, in front of the C
// supply but the CC wire not yet joined.
func attachTwin(t *testing.T, k kit, seed uint64, faults ...Fault) (w *Twin, path []string) {
	w = k.twin(t, seed)
	require.NoError(t, w.Seat("S1", faults...))
	path = []string{"k_csup1", "k_csup2", "k_plug", "k_bleed", "k_cut", "k_dshort", "k_range", "s_feed"}
	drive(t, w, 50*time.Millisecond, path...)
	return w, path
}

// A source debounces 100 to 200 ms (tCCDebounce) and brings VBUS within 275 ms
// (tVBUSON) of that: never before 100 ms, always by 475 ms, plus the relay. The
// draws reach well over the range.
func TestCSupplyAttachesInItsTime(t *testing.T) {
	k := newKit(t, "hand-lamp")
	var earliest, latest time.Duration = never, 0
	for seed := range uint64(20) {
		w, path := attachTwin(t, k, seed)
		require.Less(t, volts(t, w, "plug.sense"), 0.1, "cold before")
		require.NoError(t, w.Truth().Drive(append(path, "k_ccc")...))
		at := first(t, w, time.Second, func() bool { return volts(t, w, "plug.sense") >= 4.75 })
		require.GreaterOrEqual(t, at, seconds(typec.TCCDebounce().Min.SI))
		require.LessOrEqual(t, at, seconds(typec.AttachWorst().Max.SI)+8*time.Millisecond)
		earliest, latest = min(earliest, at), max(latest, at)
		require.Equal(t, "attached", supplyState(t, w, "csup"))
	}
	require.Less(t, earliest, 250*time.Millisecond)
	require.Greater(t, latest, 350*time.Millisecond)
}

// When the CC wire opens the source sees it within 20 ms (tSRCDisconnect) and
// VBUS is at vSafe0V within 650 ms more (tVBUSOFF).
func TestCSupplyDetachesInItsTime(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for seed := range uint64(8) {
		w, path := attachTwin(t, k, seed)
		drive(t, w, 700*time.Millisecond, append(path, "k_ccc")...)
		require.Greater(t, volts(t, w, "plug.sense"), 4.75)
		require.NoError(t, w.Truth().Drive(path...))
		at := first(t, w, time.Second, func() bool { return volts(t, w, "plug.sense") <= 0.8 })
		require.LessOrEqual(t, at, seconds(typec.DetachWorst().Max.SI)+8*time.Millisecond)
		require.Equal(t, "unattached", supplyState(t, w, "csup"))
	}
}

// What each termination does to the source, for the three advertisements: the
// table of source connection states (facts 7.1) over the loads of 7.3. Ra of
// 1 kΩ stands at the supply's own second pin where marked.
func TestCSupplySeesTerminations(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for _, c := range []struct {
		name   string
		cc1    float64 // ohms to ground at CC1
		marked bool
		attach [3]bool
	}{
		{"Rd", 5100, false, [3]bool{true, true, true}},
		{"Rd -20 %", 4080, false, [3]bool{true, true, true}},
		{"Rd +20 %", 6120, false, [3]bool{true, true, true}},
		{"Rd with Ra", 5100, true, [3]bool{true, true, true}},
		{"open", 1e9, false, [3]bool{}},
		{"zOPEN", 126e3, false, [3]bool{}},
		{"open with Ra", 1e9, true, [3]bool{}},
		{"Ra alone", 1000, false, [3]bool{}},
		{"Ra with Ra", 1000, true, [3]bool{}},
		{"510 Ω", 510, false, [3]bool{}},
		{"51 kΩ", 51e3, false, [3]bool{}},
		{"10 kΩ", 10e3, false, [3]bool{true, false, false}},
		{"shorted", 0.1, false, [3]bool{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := twinWithTermination(t, k, c.cc1)
			for i, sel := range []string{"", "sel_c_15", "sel_c_30"} {
				on := []string{"k_ccc", "k_stand", "k_ra"}
				if !c.marked {
					on = on[:2]
				}
				if sel != "" {
					on = append(on, sel)
				}
				drive(t, w, 800*time.Millisecond)
				drive(t, w, 600*time.Millisecond, on...)
				require.Equal(t, c.attach[i], supplyState(t, w, "csup") == "attached", "advertisement %d", i)
				require.Equal(t, c.attach[i], volts(t, w, "csup.out") > 4.75)
			}
		})
	}
}

// twinWithTermination is the shipped rig with another resistor in place of its
// stand-in termination.
func twinWithTermination(t *testing.T, k kit, ohms float64) *Twin {
	rig := *k.rig
	rig.Parts = append([]wiring.Part(nil), rig.Parts...)
	for i := range rig.Parts {
		if rig.Parts[i].Name == "r_stand" {
			rig.Parts[i].Value = wiring.Toleranced{Nominal: quantity.Ohms(ohms), Tolerance: quantity.Pure(0)}
		}
	}
	k.rig = &rig
	return k.twin(t, 11)
}

// The pull-up is a current: the stand-in shows I times R within the ±20 % and
// ±8 % of the advertisements (USB Type-C R2.5, Table 4-27), and the Ra pin of
// an attached marked cable carries VCONN.
func TestCSupplyPullsWithACurrent(t *testing.T) {
	k := newKit(t, "hand-lamp")
	for i, sel := range []string{"", "sel_c_15", "sel_c_30"} {
		w := k.twin(t, 3)
		on := []string{"k_ccc", "k_stand", "k_ra"}
		if sel != "" {
			on = append(on, sel)
		}
		drive(t, w, 20*time.Millisecond, on...)
		r := typec.Rp(advertisements()[i], typec.CurrentSource)
		cc := volts(t, w, "csup.cc1")
		require.Greater(t, cc, 0.98*5050*r.Min.SI)
		require.Less(t, cc, 1.02*5151*r.Max.SI)
		require.Less(t, volts(t, w, "csup.cc2"), 0.4, "Ra")
		drive(t, w, 600*time.Millisecond, on...)
		require.Greater(t, volts(t, w, "csup.cc2"), 4.75, "VCONN")
	}
}

// A strict supply waits for a cold VBUS: the cell that feeds back keeps it
// from attaching, with its bleeder on.
func TestCSupplyIsStrict(t *testing.T) {
	w, path := attachTwin(t, newKit(t, "hand-lamp"), 2, Fault{Name: "back-feed"}.Severe(1))
	path = append(path, "k_ccc", "k_cell1", "k_cell2", "sel_cell1")
	drive(t, w, time.Second, path...)
	require.Equal(t, "waiting for a cold VBUS", supplyState(t, w, "csup"))
	require.InDelta(t, 3.6, volts(t, w, "csup.out"), 0.2)
	drive(t, w, time.Second, path[:len(path)-3]...)
	require.Equal(t, "attached", supplyState(t, w, "csup"), "without the cell VBUS is bled and it attaches")
}

// Interrupting CC for less than the debounce starts it anew; a change-over
// relay that opens the wire for a moment does not detach an attached supply.
func TestCSupplyDebounces(t *testing.T) {
	w, path := attachTwin(t, newKit(t, "hand-lamp"), 5)
	for range 5 {
		drive(t, w, 90*time.Millisecond, append(path, "k_ccc")...)
		drive(t, w, 15*time.Millisecond, path...)
		require.NotEqual(t, "attached", supplyState(t, w, "csup"))
	}
	require.Less(t, volts(t, w, "plug.sense"), 0.5)
}

// A cable's Ra that appears while a sink is being debounced is another pair of
// terminations: the debounce starts anew (tCCDebounce is at least 100 ms).
func TestCSupplyDebouncesThePair(t *testing.T) {
	w := newTwin(t, "hand-lamp", 3)
	for i := range 8 {
		on := []string{"k_ccc", "k_stand"}
		if i%2 == 1 {
			on = append(on, "k_ra")
		}
		drive(t, w, 80*time.Millisecond, on...)
		require.Equal(t, "attach wait", supplyState(t, w, "csup"))
	}
	drive(t, w, 500*time.Millisecond, "k_ccc", "k_stand")
	require.Equal(t, "attached", supplyState(t, w, "csup"))
}

func TestCSupplyFaults(t *testing.T) {
	w, path := attachTwin(t, newKit(t, "hand-lamp"), 5)
	path = append(path, "k_ccc")
	require.NoError(t, w.Break(RigFault{Kind: SupplyLate, Part: "csup", For: 2 * time.Second}))
	drive(t, w, time.Second, path...)
	require.Less(t, volts(t, w, "plug.sense"), 1.0)
	drive(t, w, 1600*time.Millisecond, path...)
	require.Greater(t, volts(t, w, "plug.sense"), 4.75)
	require.NoError(t, w.Break(RigFault{Kind: SupplyOff, Part: "csup", Value: 0.2}))
	require.NoError(t, w.Truth().Pass(time.Millisecond))
	require.Greater(t, volts(t, w, "plug.sense"), 5.8)
	require.NoError(t, w.Break(RigFault{Kind: SupplyDead, Part: "csup"}))
	require.NoError(t, w.Truth().Pass(2*time.Second))
	require.Less(t, volts(t, w, "csup.out"), 1.0)
	w.Mend()
	drive(t, w, time.Second)
	drive(t, w, 700*time.Millisecond, path...)
	require.InDelta(t, 5.1, volts(t, w, "plug.sense"), 0.2)
}

// portableTwin is a unit in front of the portable supply, with or without the
// cell that lets it draw current.
func portableTwin(t *testing.T, cell bool) (*Twin, []string) {
	w := newTwin(t, "hand-lamp", 8)
	require.NoError(t, w.Seat("S1"))
	path := []string{"k_port1", "k_port2", "k_plug", "k_bleed", "k_lcc", "k_cut", "k_dshort", "k_range"}
	if cell {
		path = append(path, "k_cell1", "k_cell2", "sel_cell1")
	}
	drive(t, w, 400*time.Millisecond)
	require.Equal(t, "off", supplyState(t, w, "portable"))
	drive(t, w, 30*time.Millisecond, path...)
	return w, append(path, "s_feed")
}

// A portable supply wakes when something is plugged in, stays with a load
// above its wake threshold (60 mA in the wiring file), and switches off when
// the load stays below it for its patience (0.6 s).
func TestPortableSupplyStaysWithALoad(t *testing.T) {
	w, path := portableTwin(t, true)
	drive(t, w, 3*time.Second, path...)
	require.Equal(t, "on", supplyState(t, w, "portable"))
	require.Greater(t, w.Truth().Vbus(), 4.5)
}

func TestPortableSupplyGivesUp(t *testing.T) {
	w, path := portableTwin(t, false)
	require.NoError(t, w.Truth().Drive(path...))
	on := first(t, w, time.Second, func() bool { return w.Truth().Vbus() > 4.75 })
	require.Less(t, on, 60*time.Millisecond)
	off := first(t, w, 2*time.Second, func() bool { return supplyState(t, w, "portable") == "off" })
	require.InDelta(t, 0.6, off.Seconds(), 0.25, "its patience counts from the last load above the threshold")
	require.NoError(t, w.Truth().Pass(2*time.Second))
	require.Equal(t, "off", supplyState(t, w, "portable"), "it does not wake by itself")
	require.Less(t, w.Truth().Vbus(), 0.8)
	// Unplugged and plugged again it wakes.
	drive(t, w, 600*time.Millisecond)
	drive(t, w, 30*time.Millisecond, path[:len(path)-1]...)
	drive(t, w, 100*time.Millisecond, path...)
	require.Equal(t, "on", supplyState(t, w, "portable"))
}

// The patience begins anew when the load goes: the cell that fills up.
func TestPortableSupplyWaitsForItsPatience(t *testing.T) {
	w, path := portableTwin(t, true)
	drive(t, w, 2*time.Second, path...)
	require.NoError(t, w.Truth().Drive(append(path, "sel_cell0")...)) // 4.1 V
	require.NoError(t, w.Truth().Pass(time.Second))
	require.Equal(t, "on", supplyState(t, w, "portable"), "still above the threshold")
	full := append(path[:len(path)-2:len(path)-2], "s_feed", "sel_cell2")
	require.NoError(t, w.Truth().Drive(full...))
	off := first(t, w, 2*time.Second, func() bool { return supplyState(t, w, "portable") == "off" })
	require.InDelta(t, 0.6, off.Seconds(), 0.02)
}

// The probe is a current until its compliance voltage (2.8 V in the wiring
// file), far below the lock-out of a charger.
func TestProbeCurrents(t *testing.T) {
	for _, c := range []struct {
		sel   []string
		level float64
	}{{nil, 0.1e-3}, {[]string{"sel_probe_5ma"}, 5e-3}} {
		w := newTwin(t, "hand-lamp", 1)
		on := append([]string{"k_pv1", "k_pv2", "k_load", "k_bleed"}, c.sel...)
		drive(t, w, 50*time.Millisecond, on...)
		want := min(2.8, c.level*1000/(1+1000/1.02e6))
		require.InDelta(t, want, volts(t, w, "plug.sense"), 0.01*want)
	}
}

// The cell substitute sources and sinks at each of its levels.
func TestCellSubstituteLevels(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	for _, c := range []struct {
		level   float64
		selects []string
	}{
		{2.5, nil}, {3.0, []string{"sel_cell0"}}, {3.7, []string{"sel_cell1"}},
		{4.1, []string{"sel_cell0", "sel_cell1"}}, {4.25, []string{"sel_cell2"}},
		{4.25, []string{"sel_cell2", "sel_cell0"}}, // means nothing: nothing changes
	} {
		drive(t, w, 30*time.Millisecond, append([]string{"k_cell1", "k_cell2"}, c.selects...)...)
		require.InEpsilon(t, c.level, volts(t, w, "pad.cell"), 0.0021, "%v", c.selects)
	}
}

func TestReferencesAndTheirFaults(t *testing.T) {
	w := newTwin(t, "hand-lamp", 1)
	require.InEpsilon(t, 2.5, volts(t, w, "ref.out"), 0.0006)
	require.InEpsilon(t, 3.3, volts(t, w, "probe.rail"), 0.0051)
	require.NoError(t, w.Break(RigFault{Kind: SupplyOff, Part: "ref", Value: 0.01}))
	require.NoError(t, w.Truth().Pass(time.Millisecond))
	require.InEpsilon(t, 2.525, volts(t, w, "ref.out"), 0.0006)
	require.NoError(t, w.Break(RigFault{Kind: SupplyLate, Part: "legacy", For: time.Second}))
	require.NoError(t, w.Truth().Pass(time.Millisecond))
	require.Less(t, volts(t, w, "leg.out"), 0.1)
	require.NoError(t, w.Truth().Pass(time.Second))
	require.Greater(t, volts(t, w, "leg.out"), 4.9)
	require.NoError(t, w.Break(RigFault{Kind: SupplyDead, Part: "legacy"}))
	require.NoError(t, w.Truth().Pass(time.Millisecond))
	require.Less(t, volts(t, w, "leg.out"), 0.1)
}
