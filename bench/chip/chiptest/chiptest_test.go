package chiptest_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench/chip"
	"sinkproof/bench/chip/chiptest"
)

var _ chip.Clock = (*chiptest.Clock)(nil)

// echo is a chip that remembers the last byte written.
type echo struct {
	chiptest.Wire
	last byte
}

func (e *echo) Tx(addr uint16, w, r []byte) error {
	if err := e.Carry(addr, w, r); err != nil {
		return err
	}
	if len(w) > 0 {
		e.last = w[0]
	}
	for i := range r {
		r[i] = e.last
	}
	return nil
}

func newEcho() *echo {
	return &echo{Wire: chiptest.Wire{Clock: &chiptest.Clock{}, Addr: 7}}
}

func TestWireTakesItsBitsTime(t *testing.T) {
	e := newEcho()
	require.NoError(t, e.Tx(7, []byte{1, 2, 3}, nil))
	require.Equal(t, 90*time.Microsecond, e.Clock.Now(), "4 bytes of 9 bits at 400 kHz")
	require.NoError(t, e.Tx(7, []byte{1}, make([]byte, 2)))
	require.Equal(t, 90*time.Microsecond+112500*time.Nanosecond, e.Clock.Now(), "and 5 with the second address")
	require.Error(t, e.Tx(8, nil, make([]byte, 1)))
}

func TestCutFailsAtItsTransferInItsWay(t *testing.T) {
	for _, c := range []struct {
		how    chiptest.How
		failed []bool
		last   byte
	}{
		{chiptest.Whole, []bool{false, false, false}, 3},
		{chiptest.Unheard, []bool{false, true, false}, 3},
		{chiptest.Unanswered, []bool{false, true, false}, 3},
		{chiptest.Dead, []bool{false, true, true}, 1},
	} {
		t.Run(c.how.String(), func(t *testing.T) {
			e := newEcho()
			cut := &chiptest.Cut{Bus: e, How: c.how, At: 1}
			for i, failed := range c.failed {
				err := cut.Tx(7, []byte{byte(i + 1)}, nil)
				require.Equal(t, failed, errors.Is(err, chiptest.ErrCut))
			}
			require.Equal(t, c.last, e.last)
		})
	}
}

func TestUnansweredReachesTheChipAndSpoilsTheAnswer(t *testing.T) {
	e := newEcho()
	cut := &chiptest.Cut{Bus: e, How: chiptest.Unanswered}
	r := make([]byte, 1)
	require.ErrorIs(t, cut.Tx(7, []byte{5}, r), chiptest.ErrCut)
	require.Equal(t, byte(5), e.last)
	require.NotEqual(t, byte(5), r[0])
}

func TestEveryCutMeetsEachTransferInEachWay(t *testing.T) {
	seen := map[string]int{}
	chiptest.EveryCut(t, func(_ *testing.T, cut *chiptest.Cut) error {
		seen[fmt.Sprint(cut.How, cut.At)]++
		cut.Bus = newEcho()
		return errors.Join(cut.Tx(7, []byte{1}, nil), cut.Tx(7, []byte{2}, nil))
	})
	require.Len(t, seen, 1+3*2, "whole, and three ways at two transfers")
}

func TestClockGivesUpWhenItsContextOrLimitEnds(t *testing.T) {
	c := &chiptest.Clock{Limit: 2}
	require.NoError(t, c.Sleep(t.Context(), time.Second))
	require.ErrorIs(t, c.Sleep(t.Context(), time.Second), context.Canceled)
	require.NoError(t, c.Sleep(t.Context(), time.Second), "once only")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, c.Sleep(ctx, 0), context.Canceled)
	require.Equal(t, 2*time.Second, c.Now())
}

func ExampleCut() {
	cut := &chiptest.Cut{Bus: newEcho(), How: chiptest.Unheard, At: 1}
	for range 3 {
		fmt.Println(cut.Tx(7, []byte{1}, nil))
	}
	// Output:
	// <nil>
	// transfer 1: the bus was cut
	// <nil>
}
