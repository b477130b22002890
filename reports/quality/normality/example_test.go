package normality_test

import (
	"fmt"

	"sinkproof/reports/quality/normality"
)

func ExampleAndersonDarling() {
	// Rain in a desert town: many dry days, some downpours.
	r, err := normality.AndersonDarling([]float64{0, 0.1, 0.1, 0.2, 0.2, 0.3, 0.4, 0.9, 4.1, 7.5})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("normal: %v\n", r.P >= 0.05)
	// Output: normal: false
}
