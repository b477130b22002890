package gauge_test

import (
	"fmt"

	"sinkproof/reports/quality/gauge"
)

// Two nests measure three boards twice.
func ExampleStudy_Analyze() {
	var readings []gauge.Reading
	for nest, byBoard := range [][][]float64{
		{{4.98, 4.99}, {5.10, 5.09}, {5.21, 5.21}},
		{{4.99, 4.99}, {5.11, 5.10}, {5.22, 5.23}},
	} {
		for board, trials := range byBoard {
			for _, v := range trials {
				readings = append(readings, gauge.Reading{Part: fmt.Sprint(board), Appraiser: fmt.Sprint(nest), Value: v})
			}
		}
	}
	study, err := gauge.Arrange(readings)
	if err != nil {
		fmt.Println(err)
		return
	}
	a := study.Analyze(gauge.Pooling, 0.95)
	ndc, _ := a.NDC()
	fmt.Printf("GRR %.1f %% of the study, %d categories, pooled %v\n", a.GRRPercent(), ndc, a.Pooled)
	// Output: GRR 7.6 % of the study, 18 categories, pooled true
}
