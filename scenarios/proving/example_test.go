package proving_test

import (
	"fmt"

	"sinkproof/scenarios/proving"
)

// A finding names what no measurement of the rig tells apart.
func ExampleFinding() {
	f := proving.Finding{Suspects: []proving.Suspect{
		{Thing: "k_pv1", Fault: proving.StuckOpen},
		{Thing: "probe", Fault: proving.SupplyDead},
	}}
	fmt.Println(f)
	fmt.Println(proving.Suspect{Thing: "cc1", Fault: proving.Gain, Amount: 0.02})
	// Output:
	// k_pv1 does not close, or probe gives nothing
	// cc1 reads wrong (+2.0 %)
}
