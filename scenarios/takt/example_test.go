package takt_test

import (
	"fmt"

	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/scenarios"
	"sinkproof/scenarios/takt"
)

func ExampleRig_Floor() {
	rig, _ := fixtures.Shipped("bench-one")
	lamp, _, _ := product.Shipped("hand-lamp")
	file, _ := scenarios.Shipped("terminations-only")
	sc, _ := scenarios.Load(file, rig.Rig, lamp)
	floor, err := takt.NewRig(rig.Rig, lamp).Floor(sc)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range floor {
		if c.Round == "seat" && c.Cause == takt.Probing {
			fmt.Printf("%.0f ms: %s\n", 1e3*c.Seconds, c.How)
		}
	}
	// Output:
	// 94 ms: C · U / I = 4.70 µF · 2.0 V / 100 µA: product file, bench, wiring
	// 40 ms: the bench watches the fall that tells a load from a capacitance
}
