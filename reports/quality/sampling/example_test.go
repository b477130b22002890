package sampling_test

import (
	"fmt"

	"sinkproof/reports/quality/sampling"
)

// A lot of 1000 boards at an acceptance quality limit of 0.4 %.
func ExampleLookup() {
	d, err := sampling.Lookup(1000, "II", 0.4, sampling.Normal)
	fmt.Printf("letter %s, test %d, reject from %d bad (%v)\n", d.PlanLetter, d.N, d.Reject(), err)
	// Output: letter K, test 125, reject from 2 bad (<nil>)
}

// Good lots have 1 %, bad ones 5 %.
func ExampleFind() {
	f, err := sampling.Find(sampling.Lot{}, sampling.Risks{
		ProducerQuality: 0.01, ProducerRisk: 0.05, ConsumerQuality: 0.05, ConsumerRisk: 0.1})
	fmt.Printf("test %d, accept with %d bad (%v)\n", f.N, f.Accept, err)
	// Output: test 132, accept with 3 bad (<nil>)
}
