package moments_test

import (
	"fmt"

	"sinkproof/reports/quality/moments"
)

// Readings arrive one at a time; nothing is kept but their sums.
func ExampleRunning() {
	var r moments.Running
	for _, volts := range []float64{4.98, 5.01, 5.02, 4.99, 5.00} {
		r.Add(volts)
	}
	m := r.Moments()
	fmt.Printf("%d readings, %.3f V, sd %.4f V\n", m.N, m.Mean, m.SD)
	// Output: 5 readings, 5.000 V, sd 0.0158 V
}
