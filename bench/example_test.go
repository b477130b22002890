package bench_test

import (
	"context"
	"fmt"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
)

// A unit is probed, put in front of a legacy A supply and watched until VBUS is
// up. Whatever happens in between, Do leaves the rig isolated.
func Example() {
	fixture, err := fixtures.Shipped("bench-one")
	if err != nil {
		fmt.Println(err)
		return
	}
	lamp, _, err := product.Shipped("hand-lamp")
	if err != nil {
		fmt.Println(err)
		return
	}
	simulated, err := twin.New(twin.Config{Wiring: fixture.Rig, Product: lamp, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	ctx := context.Background()
	rig, err := bench.Open(ctx, fixture.Rig, simulated.Hardware(), bench.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := simulated.Seat("A-1"); err != nil {
		fmt.Println(err)
		return
	}
	err = rig.Do(func() error {
		seen, err := rig.Probe(ctx)
		if err != nil {
			return err
		}
		fmt.Println("present:", seen.Present, "shorted:", seen.Shorted)
		rig.Pass(bench.ProbeVbus)
		if err := rig.Enter(ctx, wiring.Setting{Condition: "legacy-a"}); err != nil {
			return err
		}
		up, err := rig.Wait(ctx, bench.Until{Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4.75),
			Hold: 100 * time.Millisecond, Within: time.Second})
		fmt.Println("VBUS is up:", up.Met)
		return err
	})
	fmt.Println(rig.State().Setting.Condition, err)
	// Output:
	// present: true shorted: false
	// VBUS is up: true
	// isolated <nil>
}
