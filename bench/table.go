package bench

import (
	"context"

	"sinkproof/bench/turns"
)

// Table lets the nests of one rig work side by side on one computer. They take
// turns on one loop and live on one heartbeat; everything else each has for itself,
// and opens, loses and closes for itself. It is not for concurrent use.
//
// What ends the heartbeat (a loop that was held up, a line that fails, coils of a
// nest that cannot be proven off) is a fault of all nests; each finds it in its next
// turn.
type Table struct {
	turns *turns.Table
	hw    Hardware
}

// NewTable returns a table for so many nests on a computer.
func NewTable(hw Hardware, nests int) *Table {
	hw.heart = hw.ownHeart()
	return &Table{turns.New(hw.Clock, nests), hw}
}

// Hardware is what the i-th nest, from 0, is opened on: the computer, with the
// nest's own seat for a clock. Open and the nest's work belong into Run.
func (t *Table) Hardware(i int) Hardware {
	hw := t.hw
	hw.Clock = t.turns.Seat(i)
	return hw
}

// Run lets every nest do its work and returns when all have ended, with their
// errors joined in the order of the nests.
func (t *Table) Run(ctx context.Context, works ...func(context.Context) error) error {
	return t.turns.Run(ctx, works...)
}
