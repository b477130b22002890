package tolerance_test

import (
	"fmt"

	"sinkproof/reports/quality/tolerance"
)

// Thirty boards: which limits hold 99 % of all boards, at 95 % confidence?
func ExampleTwoSided() {
	k := tolerance.TwoSided(30, 0.99, 0.95)
	l := tolerance.Limits(5.002, 0.013, k)
	fmt.Printf("k = %.3f, %.3f V to %.3f V\n", k, l.Low, l.High)
	// Output: k = 3.355, 4.958 V to 5.046 V
}

// Without trusting in normality it takes more boards.
func ExampleRangeSize() {
	fmt.Println(tolerance.RangeSize(0.99, 0.95))
	// Output: 473
}
