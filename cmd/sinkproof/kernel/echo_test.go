package kernel

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheEchoKeepsWhatIsWritten(t *testing.T) {
	e := NewEcho()
	require.NoError(t, e.Tx(EchoMemory, []byte{254, 1, 2, 3}, nil))
	r := make([]byte, 3)
	require.NoError(t, e.Tx(EchoMemory, []byte{254}, r))
	require.Equal(t, []byte{1, 2, 3}, r, "the pointer runs over the end")
	require.NoError(t, e.Tx(EchoMemory, nil, r[:1]))
	require.Zero(t, r[0], "the pointer stands behind what was read")
	require.ErrorIs(t, e.Tx(0x52, []byte{0}, nil), ErrNoAnswer)
}

func TestTheEchoJoinsTwoLinesAndLogsTheOthers(t *testing.T) {
	e := NewEcho()
	require.Equal(t, uint8(0xff), e.Levels(), "all are pulled up")
	e.Direct(1)
	require.Equal(t, uint8(0xff), e.Levels(), "an output that was not set is high")
	e.Set(1, 0)
	require.Equal(t, uint8(0xfc), e.Levels(), "line 1 follows line 0")

	e.Direct(1 | 4)
	e.Set(4, 4)
	e.Set(4, 0)
	e.Direct(1)
	log := func() []byte {
		r := make([]byte, 8)
		require.NoError(t, e.Tx(EchoLog, []byte{2}, r))
		return r[1 : 1+r[0]]
	}
	const high, output = 1, 2
	require.Equal(t, []byte{output | high, output | high, output, high}, log())
	require.NoError(t, e.Tx(EchoLog, []byte{0xff}, nil))
	require.Empty(t, log())
}
