package capability_test

import (
	"fmt"

	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/spread"
)

// Output voltages of five boards at a time, three times a shift.
func ExampleStudy() {
	boards := [][]float64{{4.98, 5.01, 5.00, 4.99, 5.02}, {5.03, 5.01, 5.00, 5.02, 5.04}, {4.99, 5.00, 4.98, 5.01, 5.00}}
	r, err := capability.Study(boards, capability.Between(4.90, 5.10), spread.Pooled, 0.95)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("could do Cpk %.2f, did Ppk %.2f (%.2f to %.2f)\n", r.Cpk.Value, r.Ppk.Value, r.Ppk.Low, r.Ppk.High)
	// Output: could do Cpk 2.18, did Ppk 1.83 (1.13 to 2.53)
}
