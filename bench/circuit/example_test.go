package circuit_test

import (
	"fmt"

	"sinkproof/bench/circuit"
)

// A supply that limits at 1 A charges 100 µF over a contact; when does it reach
// 4.75 V? By hand: 475 µC on both capacitors, 5 µC of them there before.
func Example() {
	n := circuit.New()
	supply, vbus := n.Node("supply"), n.Node("vbus")
	n.LimitedSupply("supply", supply, circuit.Ground, 5, 0.1, 1, false)
	n.Capacitor("output", supply, circuit.Ground, 1e-6, 5)
	contact := n.Switch("contact", supply, vbus, 0.1)
	n.Capacitor("bulk", vbus, circuit.Ground, 100e-6, 0)
	s, err := n.Start()
	if err != nil {
		fmt.Println(err)
		return
	}
	w := s.Watch(vbus, 4.75, true)
	_ = s.SetSwitch(contact, true)
	fired, err := s.AdvanceTo(1)
	fmt.Printf("%v %v: %.4f V after %.3g ms\n", fired == w, err, s.Volts(vbus), s.Now()*1e3)
	// Output: true <nil>: 4.7500 V after 0.475 ms
}
