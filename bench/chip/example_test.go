package chip_test

import (
	"context"
	"fmt"
	"time"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
)

// A conversion that takes 1.05 times the nominal time is found ready shortly
// after it has ended, not at a time that was guessed.
func ExampleWait_Until() {
	clock := &chiptest.Clock{}
	wait := chip.Wait{Nominal: 8 * time.Millisecond, Longest: 9 * time.Millisecond}
	err := wait.Until(context.Background(), clock, 0, func() (bool, error) {
		return clock.Now() >= 8400*time.Microsecond, nil
	})
	fmt.Println(clock.Now(), err)
	// Output: 8.45ms <nil>
}
