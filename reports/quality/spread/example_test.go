package spread_test

import (
	"fmt"

	"sinkproof/reports/quality/spread"
)

// The shifts between the three trays do not count.
func ExampleWithin() {
	trays := [][]float64{{5.00, 5.02, 5.01}, {5.11, 5.10, 5.12}, {4.92, 4.90, 4.91}}
	s, err := spread.Within(trays, spread.Pooled)
	fmt.Printf("%.3f V with %g degrees of freedom, %v\n", s.SD, s.DF, err)
	// Output: 0.010 V with 6 degrees of freedom, <nil>
}
