package twin_test

import (
	"fmt"
	"time"

	"sinkproof/bench/twin"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
)

// A unit without terminations in front of a legacy A supply and of a C supply,
// seen from inside the twin.
func Example() {
	rig, _ := fixtures.Shipped("bench-one")
	lamp, _, _ := product.Shipped("hand-lamp")
	t, _ := twin.New(twin.Config{Wiring: rig.Rig, Product: lamp, Seed: 1})
	_ = t.Seat("LAMP-0001", twin.Fault{Name: "no-rd"})
	truth := t.Truth()

	charges := func(supply string, relays ...string) {
		_ = truth.Drive()
		_ = truth.Pass(time.Second)
		_ = truth.Drive(append(relays, "k_plug", "k_cut", "k_dshort", "k_bleed", "k_range", "k_cell1", "k_cell2", "sel_cell1", "s_feed")...)
		_ = truth.Pass(time.Second)
		fmt.Printf("%s: VBUS %.0f V, charger: %s\n", supply, truth.Vbus(), truth.Charger())
	}
	charges("legacy A supply", "k_leg1", "k_leg2", "k_lcc")
	charges("C supply", "k_csup1", "k_csup2", "k_ccc")
	// Output:
	// legacy A supply: VBUS 5 V, charger: constant current
	// C supply: VBUS 0 V, charger: off
}

// ExampleFaults lists what can be wrong with a unit.
func ExampleFaults() {
	for _, d := range twin.Faults()[:3] {
		fmt.Printf("%s: %s (%s)\n", d.Name, d.Title, d.Effect)
	}
	// Output:
	// no-rd: no termination (charges from a legacy A supply, gets nothing from a C supply)
	// rd-missing-one-pin: termination missing on one pin (charges from a C supply only one way round)
	// shared-rd: one termination shared by both pins (gets nothing through a marked cable)
}
