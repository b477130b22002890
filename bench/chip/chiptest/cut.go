package chiptest

import (
	"errors"
	"fmt"
	"testing"

	"periph.io/x/conn/v3/i2c"
)

// ErrCut is the cause of every failure that a Cut makes.
var ErrCut = errors.New("the bus was cut")

// How is a way for a bus to fail.
type How int

// The ways of a Cut.
const (
	// Whole: the bus does not fail.
	Whole How = iota
	// Unheard: one transfer fails before the chip has seen it.
	Unheard
	// Unanswered: the chip has acted on one transfer, the host hears of an
	// error and its read buffer holds rubbish.
	Unanswered
	// Dead: that transfer and every later one fails.
	Dead
)

// String returns a name for subtests.
func (h How) String() string {
	return [...]string{"whole", "unheard", "unanswered", "dead"}[h]
}

// Cut is a bus that fails at one transfer.
type Cut struct {
	i2c.Bus
	// How and At choose the failure; At counts transfers from 0.
	How How
	At  int
	// Count is the number of transfers seen before Heal.
	Count  int
	healed bool
}

// Heal lets every later transfer pass, uncounted.
func (c *Cut) Heal() { c.healed = true }

// Tx passes the transfer on, unless it is its turn to fail.
func (c *Cut) Tx(addr uint16, w, r []byte) error {
	if c.healed {
		return c.Bus.Tx(addr, w, r)
	}
	n := c.Count
	c.Count++
	switch {
	case c.How == Dead && n >= c.At, c.How == Unheard && n == c.At:
		return fmt.Errorf("transfer %d: %w", n, ErrCut)
	case c.How == Unanswered && n == c.At:
		if err := c.Bus.Tx(addr, w, r); err != nil {
			return err
		}
		for i := range r {
			r[i] ^= 0xA5
		}
		return fmt.Errorf("transfer %d: %w", n, ErrCut)
	}
	return c.Bus.Tx(addr, w, r)
}

// EveryCut has a conversation once whole, to learn how many transfers it takes,
// and then once for each transfer and each way of failing there. talk puts a
// fresh chip into cut.Bus, speaks, checks afterwards that nothing is left over
// (calling cut.Heal first), and returns the driver's error. EveryCut demands
// none for the whole conversation, and for every other one that wraps ErrCut.
func EveryCut(t *testing.T, talk func(t *testing.T, cut *Cut) error) {
	t.Helper()
	whole := &Cut{}
	if err := talk(t, whole); err != nil {
		t.Fatalf("the whole conversation: %v", err)
	}
	if whole.Count == 0 {
		t.Fatal("the conversation has no transfer to cut")
	}
	for how := Unheard; how <= Dead; how++ {
		for at := range whole.Count {
			t.Run(fmt.Sprintf("%s/%d", how, at), func(t *testing.T) {
				cut := &Cut{How: how, At: at}
				if err := talk(t, cut); !errors.Is(err, ErrCut) {
					t.Fatalf("error is %v, want one that wraps: %v", err, ErrCut)
				}
			})
		}
	}
}
