package conformance_test

import (
	"fmt"

	"sinkproof/reports/quality/conformance"
)

// A supply must deliver at most 5.5 V; the meter's expanded uncertainty is 20 mV.
func ExampleGuarded() {
	rule := conformance.Guarded(conformance.Limits{Lower: 4.75, Upper: 5.50}, 1, 0.020)
	fmt.Println(rule.Binary(5.47), rule.NonBinary(5.49))
	// Output: pass conditional pass
}
