package kernel

import (
	"bytes"
	"errors"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// unpack reads an archive the way the kernel does (init/initramfs.c): headers of
// 110 bytes, names and data filled up to four.
func unpack(t *testing.T, b []byte) map[string][]byte {
	out := map[string][]byte{}
	for {
		require.Equal(t, "070701", string(b[:6]))
		number := func(i int) int {
			n, err := strconv.ParseInt(string(b[6+8*i:14+8*i]), 16, 64)
			require.NoError(t, err)
			return int(n)
		}
		size, name := number(6), number(11)
		text := string(b[110 : 110+name-1])
		at := (110 + name + 3) &^ 3
		if text == "TRAILER!!!" {
			return out
		}
		out[text+" "+strconv.FormatInt(int64(number(1)), 8)] = b[at : at+size]
		b = b[at+(size+3)&^3:]
	}
}

func TestAnArchiveUnpacks(t *testing.T) {
	var b bytes.Buffer
	a := &archive{w: &b}
	a.folder("bin")
	a.file("bin/tool", []byte("12345"))
	a.file("init", nil)
	require.NoError(t, a.close())
	require.Equal(t, map[string][]byte{"bin 40755": {}, "bin/tool 100755": []byte("12345"), "init 100755": {}}, unpack(t, b.Bytes()))
	require.Zero(t, b.Len()%4)
}

// full is a disk without room.
type fullDisk struct{}

var errFull = errors.New("no room")

func (fullDisk) Write([]byte) (int, error) { return 0, errFull }

func TestAnArchiveKeepsItsFirstError(t *testing.T) {
	a := &archive{w: fullDisk{}}
	a.file("init", []byte("x"))
	require.ErrorIs(t, a.close(), errFull)
}
