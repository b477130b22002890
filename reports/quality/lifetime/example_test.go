package lifetime_test

import (
	"fmt"

	"sinkproof/reports/quality/lifetime"
)

// Six relays, in millions of operations; two of them still work.
func ExampleFit() {
	w, err := lifetime.Fit([]lifetime.Life{{1.2, true}, {1.9, true}, {2.3, true}, {2.8, true}, {3.0, false}, {3.0, false}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("shape %.1f, B10 %.2f million operations\n", w.Shape, w.Life(0.1))
	// Output: shape 3.0, B10 1.38 million operations
}
