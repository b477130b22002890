package spice_test

import (
	"fmt"

	"sinkproof/bench/circuit"
	"sinkproof/bench/circuit/spice"
)

// Both programs on the same divider.
func ExampleCompareDC() {
	n := circuit.New()
	in, out := n.Node("in"), n.Node("out")
	n.VoltageSource("v", in, circuit.Ground, 5, 1000)
	n.Resistor("r", in, out, 4000)
	n.Resistor("load", out, circuit.Ground, 5000)
	s, err := n.Start()
	if err != nil {
		fmt.Println(err)
		return
	}
	d, err := spice.CompareDC(s)
	fmt.Println(d.Of < 1, d.Points, err)
	// Output: true 2 <nil>
}
