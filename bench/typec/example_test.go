package typec_test

import (
	"fmt"

	"sinkproof/bench/quantity"
	"sinkproof/bench/typec"
)

func Example() {
	// A 3.0 A source in front of a good sink, and of one whose CC pins are
	// joined: 2.55 kΩ falls between the windows, so it depends on the source.
	source := typec.NominalPullUp(typec.A3000, typec.CurrentSource)
	for _, ohms := range []float64{5100, typec.ParallelOhms(5100, 5100)} {
		v := quantity.Volts(source.Volts(ohms))
		seen := typec.Classify(v, typec.A3000, typec.R20)
		fmt.Printf("%s: %s, %s\n", v.Text(3), seen, typec.Attach(seen, typec.Open).Attachment)
	}
	// Output:
	// 1.68 V: Rd, sink
	// 842 mV: Ra or Rd, undecided
}

func ExampleRange() {
	limit := typec.RdWindow(typec.Within10)
	fmt.Println(limit)
	fmt.Println(limit.Source)
	fmt.Println(limit.Contains(quantity.Ohms(5060)))
	// Output:
	// 4.59 kΩ to 5.61 kΩ, nominal 5.1 kΩ
	// USB Type-C R2.5 (2026-03), Table 4-28, secondary excerpt
	// true
}

func ExampleAttach() {
	action := typec.Attach(typec.Ra, typec.Rd)
	fmt.Println(action.Attachment)
	fmt.Println("VBUS", action.VBUS, "advertised on", action.CC, "VCONN on", action.VCONN)
	// Output:
	// sink through a powered cable
	// VBUS true advertised on CC2 VCONN on CC1
}
