package wiring_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/wiring"
)

// nestedRig is the safe rig twice, each nest with a bus and lines of its own.
func nestedRig() *wiring.Rig {
	r := safeRig()
	one := r.Buses[0].Name
	r.Buses = append(r.Buses, wiring.Bus{Name: "second", Device: "22", Frequency: r.Buses[0].Frequency})
	var shared, own []wiring.Line
	for _, l := range r.Lines {
		if l.Use == wiring.Heartbeat || l.Use == wiring.EmergencyStop {
			shared = append(shared, l)
		} else {
			own = append(own, l)
		}
	}
	for i, bus := range []string{one, "second"} {
		n := r.Nest
		n.Name, n.Number = fmt.Sprintf("nest-%d", i+1), i+1
		for _, c := range r.Chips {
			c.Bus = bus
			n.Chips = append(n.Chips, c)
		}
		for _, l := range own {
			l.Name, l.Device = fmt.Sprintf("%s-%d", l.Name, i+1), fmt.Sprintf("%s of %d", l.Device, i+1)
			n.Lines = append(n.Lines, l)
		}
		r.Nests = append(r.Nests, n)
	}
	r.Nest, r.Chips = r.Nests[0], r.Nests[0].Chips
	r.Lines = slices.Concat(shared, r.Nest.Lines)
	return r
}

func TestNestsThatShareNothingAreInOrder(t *testing.T) {
	r := nestedRig()
	require.Empty(t, r.Validate())
	for _, v := range r.ByNest() {
		_, violations := wiring.Prove(v)
		require.Empty(t, violations)
		require.Len(t, v.Buses, 1)
	}
	require.Len(t, r.AllLines(), 2+2*len(r.Nest.Lines))
	one := safeRig()
	require.Equal(t, []*wiring.Rig{one}, one.ByNest(), "a rig with one nest is its own only view")
	require.Equal(t, one.Lines, one.AllLines())
}

func TestMistakesOfNests(t *testing.T) {
	for name, c := range map[string]struct {
		spoil   func(r *wiring.Rig)
		summary string
		nest    int
	}{
		"a converter for two": {func(r *wiring.Rig) { r.Nests[1].Chips[0].Bus = r.Nests[0].Chips[0].Bus }, "chips shared by nests", 2},
		"a lid for two": {func(r *wiring.Rig) {
			r.Lines = append([]wiring.Line{{Name: "lid", Device: "l", Use: wiring.Lid}}, r.Lines...)
		}, "line shared by nests", 0},
		"no lid": {func(r *wiring.Rig) {
			r.Nests[1].Lines = slices.DeleteFunc(slices.Clone(r.Nests[1].Lines), func(l wiring.Line) bool { return l.Use == wiring.Lid })
		}, "safety line missing", 2},
		"a stop of its own": {func(r *wiring.Rig) {
			r.Nests[1].Lines = append(slices.Clone(r.Nests[1].Lines), wiring.Line{Name: "stop-2", Device: "s", Use: wiring.EmergencyStop})
		}, "line of the rig in a nest", 2},
		"a line for two":     {func(r *wiring.Rig) { r.Nests[1].Lines[0].Device = r.Nests[0].Lines[0].Device }, "line used twice", 2},
		"a name for two":     {func(r *wiring.Rig) { r.Nests[1].Lines[0].Name = r.Nests[0].Lines[0].Name }, "name used twice", 2},
		"a bus of two names": {func(r *wiring.Rig) { r.Buses[1].Device = r.Buses[0].Device }, "bus used twice", 0},
		"a chip on no bus":   {func(r *wiring.Rig) { r.Nests[1].Chips[0].Bus = "" }, "bus missing", 2},
		"an unknown bus":     {func(r *wiring.Rig) { r.Nests[1].Chips[0].Bus = "third" }, "unknown bus", 2},
	} {
		t.Run(name, func(t *testing.T) {
			r := nestedRig()
			c.spoil(r)
			found := r.Validate()
			require.Len(t, found, 1, "%v", found)
			require.Equal(t, c.summary, found[0].Summary)
			require.Equal(t, c.nest, found[0].Nest)
			require.NotEmpty(t, found[0].Detail)
		})
	}
}

func ExampleRig_ByNest() {
	for _, v := range nestedRig().ByNest() {
		lid, _ := v.LineFor(wiring.Lid)
		stop, _ := v.LineFor(wiring.EmergencyStop)
		fmt.Println(v.Nest.Number, v.Nest.Name, v.Buses[0].Name, lid.Name, stop.Name)
	}
	// Output:
	// 1 nest-1 i2c lid-1 emergency-stop
	// 2 nest-2 second lid-2 emergency-stop
}
