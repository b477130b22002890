package chart_test

import (
	"fmt"

	"sinkproof/reports/quality/chart"
)

// The first boards of the month set the limits; today's are held against them.
func ExampleBaseline_Variables() {
	stable := [][]float64{{5.00, 5.02, 4.99}, {5.01, 5.00, 5.02}, {4.99, 5.01, 5.00}, {5.02, 5.00, 5.01}}
	b, err := chart.Estimate(chart.XbarR, stable)
	if err != nil {
		fmt.Println(err)
		return
	}
	today, err := b.Variables(chart.XbarR, [][]float64{{5.01, 5.00, 5.01}, {5.05, 5.06, 5.04}}, chart.WesternElectric())
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range today.Location.Points {
		fmt.Printf("%.3f V %v\n", p.Value, p.Violations)
	}
	// Output:
	// 5.007 V []
	// 5.050 V [beyond-limits]
}

func ExampleRule_FalseAlarms() {
	fmt.Printf("one false alarm in %.0f points\n", 1/chart.BeyondLimits.FalseAlarms())
	// Output: one false alarm in 370 points
}
