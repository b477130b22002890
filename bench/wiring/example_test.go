package wiring_test

import (
	"fmt"

	"sinkproof/bench/wiring"
)

func ExampleRig_Expand() {
	r := axesRig()
	st, err := r.Expand(wiring.Setting{Condition: "varied", Axes: []wiring.AxisChoice{{Axis: "level", Value: "mid"}}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(st.Setting)
	fmt.Println("on", st.On, "feed", st.Feed)
	// Output:
	// varied[side = left, level = mid]
	// on [k_bleed sel] feed [s_feed]
}

func ExampleProve() {
	r := safeRig()
	r.Conditions[2].Needs = nil // power before the probe
	_, violations := wiring.Prove(r)
	for _, v := range violations {
		fmt.Println(v.Summary)
		fmt.Println(v.Path)
	}
	// Output:
	// power before the probe
	// a.out (k_a1) a.mid (k_a2) feed (s_feed) hi (r_shunt) force
}
