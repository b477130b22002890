package coverage_test

import (
	"context"
	"fmt"

	"sinkproof/scenarios/coverage"
	"sinkproof/scenarios/population"
)

func ExampleStudy() {
	sc := sketch()
	plan := population.Plan{Classes: classes(40, 20, 20), PerRig: 10}
	s := coverage.New(coverage.Config{Scenario: sc, Plan: plan})
	if _, err := population.Run(context.Background(), plan, population.Options{}, rigs(sc), s.Digest, s.Take); err != nil {
		fmt.Println(err)
	}
	r := s.Result()
	for _, c := range r.Classes {
		fmt.Printf("%-8s %d of %d wrong, at most %.0f %%\n", c.Name, c.Wrong.Count, c.Wrong.Of, 100*c.Wrong.High)
	}
	fmt.Println("redundant:", r.Redundant)
	// Output:
	// good     0 of 40 wrong, at most 9 %
	// sagging  0 of 20 wrong, at most 17 %
	// leaking  0 of 20 wrong, at most 17 %
	// redundant: [supply drop]
}
