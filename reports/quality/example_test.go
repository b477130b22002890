package quality_test

import (
	"fmt"

	"sinkproof/reports/quality"
)

func ExampleUsable() {
	fmt.Println(quality.Usable([]float64{4.98}, 2))
	// Output: 1 values, at least 2 are needed: sample not usable
}
