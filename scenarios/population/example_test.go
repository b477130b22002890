package population_test

import (
	"context"
	"fmt"

	"sinkproof/reports/record"
	"sinkproof/scenarios/population"
)

func ExampleRun() {
	plan := population.Plan{Seed: 1, Classes: population.Share(8,
		[]population.Class{population.ClassOf(0), population.ClassOf(0, "no-rd"), population.ClassOf(0, "back-feed")},
		func(c population.Class) float64 {
			return map[bool]float64{true: 2, false: 1}[c.Name == population.Good]
		})}
	count := map[string]int{}
	n, err := population.Run(context.Background(), plan, population.Options{}, new(shop).open,
		func(_ population.Unit, o population.Outcome) record.Verdict { return o.Run.Verdict },
		func(u population.Unit, v record.Verdict) { count[u.Class+" "+string(v)]++ })
	fmt.Println(n, err)
	fmt.Println(count)
	// Output:
	// 8 <nil>
	// map[back-feed pass:2 good pass:4 no-rd pass:2]
}
