package compare_test

import (
	"fmt"

	"sinkproof/reports/quality/compare"
)

// Charge currents of two suppliers' boards. A difference of 10 mA would not
// matter to anybody.
func ExampleMeans_Equivalent() {
	ours, _ := compare.Of([]float64{0.501, 0.498, 0.503, 0.499, 0.500, 0.502})
	theirs, _ := compare.Of([]float64{0.505, 0.507, 0.503, 0.506, 0.504, 0.506})
	m := compare.Welch(ours, theirs, 0.95)
	e := m.Equivalent(0.010, 0.05)
	fmt.Printf("differ: %v, alike enough: %v\n", m.P < 0.05, e.Inside())
	// Output: differ: true, alike enough: true
}

func ExampleHolm() {
	fmt.Println(compare.Holm([]float64{0.01, 0.02, 0.9}))
	// Output: [0.03 0.04 0.9]
}
