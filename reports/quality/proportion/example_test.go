package proportion_test

import (
	"fmt"

	"sinkproof/reports/quality/proportion"
)

// Three bad boards among 500.
func ExampleSummarize() {
	s := proportion.Summarize(3, 500, 0.95)
	fmt.Printf("%.3f %%, exact %.3f to %.3f %%\n", 100*s.Estimate, 100*s.ClopperPearson.Low, 100*s.ClopperPearson.High)
	// Output: 0.600 %, exact 0.124 to 1.743 %
}

// No bad board among 300 does not mean there are none.
func ExampleUpperBound() {
	fmt.Printf("at most %.2f %%\n", 100*proportion.UpperBound(0, 300, 0.95))
	// Output: at most 0.99 %
}
