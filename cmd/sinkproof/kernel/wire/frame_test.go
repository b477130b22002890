package wire

import (
	"bytes"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestFramesComeBackAsTheyWereSent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frames := rapid.SliceOf(rapid.Custom(func(t *rapid.T) Frame {
			return Frame{Kind: Kind(rapid.Byte().Draw(t, "kind")), ID: rapid.Uint32().Draw(t, "id"),
				Body: rapid.SliceOfN(rapid.Byte(), 1, 40).Draw(t, "body")}
		})).Draw(t, "frames")
		var b bytes.Buffer
		for _, f := range frames {
			require.NoError(t, Write(&b, f))
		}
		left := b.Bytes()
		for _, f := range frames {
			got, n := Cut(left)
			require.Equal(t, f, got)
			_, whole := Cut(left[:n-1])
			require.Zero(t, whole, "a frame that is not whole")
			left = left[n:]
		}
		require.Empty(t, left)
		for _, f := range frames {
			got, err := Read(&b)
			require.NoError(t, err)
			require.Equal(t, f, got)
		}
		_, err := Read(&b)
		require.ErrorIs(t, err, io.EOF)
	})
}

func TestABodyBeyondAllSenseIsNoFrame(t *testing.T) {
	_, err := Read(bytes.NewReader([]byte{0xff, 0xff, 0xff, 0xff, 1, 0, 0, 0, 0}))
	require.ErrorIs(t, err, ErrFrame)
	require.ErrorIs(t, Write(io.Discard, Frame{Body: make([]byte, limit+1)}), ErrFrame)
}

func TestAnEndInTheMiddleIsAnError(t *testing.T) {
	whole := Frame{Kind: Data, ID: 7, Body: []byte("abc")}.Append(nil)
	for n := 1; n < len(whole); n++ {
		_, err := Read(bytes.NewReader(whole[:n]))
		require.ErrorIs(t, err, io.ErrUnexpectedEOF, "%d bytes", n)
	}
}

func FuzzCut(f *testing.F) {
	f.Add(Frame{Kind: Plug, ID: 1, Body: []byte("x")}.Append(nil))
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 1, 0, 0, 0, 0, 1})
	f.Fuzz(func(t *testing.T, b []byte) {
		got, n := Cut(b)
		require.LessOrEqual(t, n, len(b))
		if n > 0 {
			require.Equal(t, b[:n], got.Append(nil))
		}
	})
}
