package yield_test

import (
	"fmt"

	"sinkproof/reports/quality/yield"
)

func ExampleRolled() {
	line := []yield.Step{yield.Tested(1000, 30, 5), yield.Tested(995, 50, 10)}
	fmt.Printf("%.1f %% untouched, %.1f %% shipped\n", 100*yield.Rolled(line), 100*yield.Overall(line))
	// Output: 92.1 % untouched, 98.5 % shipped
}
