package turns_test

import (
	"context"
	"fmt"
	"time"

	"sinkproof/bench/turns"
)

// Two nests, one of which waits three times as long as the other.
func ExampleTable_Run() {
	table := turns.New(&jumping{}, 2)
	nest := func(i int, nap time.Duration) func(context.Context) error {
		return func(ctx context.Context) error {
			for range 2 {
				if err := table.Seat(i).Sleep(ctx, nap); err != nil {
					return err
				}
				fmt.Printf("nest %d at %s\n", i+1, table.Seat(i).Now())
			}
			return nil
		}
	}
	err := table.Run(context.Background(), nest(0, 3*time.Second), nest(1, time.Second))
	fmt.Println(err)
	// Output:
	// nest 2 at 1s
	// nest 2 at 2s
	// nest 1 at 3s
	// nest 1 at 6s
	// <nil>
}
