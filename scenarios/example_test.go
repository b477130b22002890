package scenarios_test

import (
	"fmt"

	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/scenarios"
)

// A scenario with two mistakes: both come back, each with its place.
func ExampleLoad() {
	src := []byte(`scenario "short" {
  title    = "Short"
  version  = "1"
  decision = "simple"

  stage "seat" {
    probe "seat" {}
    check "capacitance" {
      title  = "Capacitance"
      value  = reading.seat.capacitance
      low    = "1 V"
      source = "product file"
      gate   = true
      rework = "Check the bulk capacitor."
    }
  }
  stage "charge" {
    enter "legacy-b" {}
    read "i" {
      channel = channel.ibus
    }
  }
}
`)
	file, _ := source.Parse("short.hcl", src)
	prod, _, err := product.Shipped("hand-lamp")
	if err != nil {
		fmt.Println(err)
		return
	}
	_, mistakes := scenarios.Load(file, sketch(), prod)
	for _, m := range mistakes {
		fmt.Println(m)
	}
	// Output:
	// short.hcl:11:16: error: dimensions do not fit: 1 V is a voltage; here a capacitance is needed.
	// short.hcl:18:11: error: unknown condition: The rig "bench-one" has no condition "legacy-b". Did you mean "legacy-a"?
}
