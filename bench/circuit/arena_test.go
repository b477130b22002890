package circuit

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestArenaHandsOutZerosAgain(t *testing.T) {
	var a arena[int32]
	a.size = 8
	first := a.take(5)
	large := a.take(20)
	for i := range large {
		large[i] = 7
	}
	for i := range first {
		first[i] = 7
	}
	require.Equal(t, 5, cap(first), "a piece must not grow into the next one")
	a.rewind()
	require.Equal(t, make([]int32, 5), a.take(5))
	require.Equal(t, make([]int32, 20), a.take(20))
	require.Same(t, &first[0], &a.blocks[0][0])
	require.Len(t, a.blocks, 2, "what fits into the old blocks needs no new one")
	require.Len(t, a.take(30), 30)
	require.Empty(t, a.take(0))
}
