package columns

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzRead: whatever the bytes are, the reader ends, names a place that is in
// the file, and gives only numbers that the cell says. Without quotes in it a
// file is also taken apart by splitting its text, and must hold the same.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		"v\n1\n2\n", "a,v\nx,1\n\ny,2\n", "a;v\r\nx;1,5\r\n", "\uFEFFa\tv\nx\t1e9\n", "v\n\"1,5\"\n",
		"a,v\n\"x\ny\",1\n", "v\nNaN\n0x1\n1_0\n", "\xFF\xFEv", "v\r1\r", "1\n2\n", "v,v\n1,2\n", "v\n1e400\n", ",,,\n",
	} {
		f.Add([]byte(seed), false, false, false)
		f.Add([]byte(seed), true, true, true)
	}
	f.Fuzz(func(t *testing.T, data []byte, comma, noHeader, skip bool) {
		format := Format{DecimalComma: comma, NoHeader: noHeader, SkipEmpty: skip}
		r, err := NewReader(bytes.NewReader(data), "f", format)
		if err != nil {
			located(t, err, data)
			return
		}
		rows := 0
		for {
			err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				located(t, err, data)
				return
			}
			rows++
			for i := range r.Names() {
				v, err := r.Number(i)
				if err != nil {
					located(t, err, data)
					continue
				}
				said := string(r.Text(i))
				if comma {
					require.NotContains(t, said, ".")
					said = strings.Replace(said, ",", ".", 1)
				}
				want, err := strconv.ParseFloat(said, 64)
				require.NoError(t, err)
				require.Equal(t, want, v)
				require.False(t, math.IsInf(v, 0) || math.IsNaN(v))
			}
		}
		if !bytes.Contains(data, []byte{'"'}) {
			require.Equal(t, rowsOf(string(data), noHeader, r.sep == '\t' && len(r.Names()) > 1), rows)
		}
	})
}

// located demands a Mistake whose line is in the file.
func located(t *testing.T, err error, data []byte) {
	var m *Mistake
	require.ErrorAs(t, err, &m)
	require.GreaterOrEqual(t, m.Line, 0)
	require.LessOrEqual(t, m.Line, bytes.Count(data, []byte{'\n'})+1)
	require.NotEmpty(t, m.Problem)
}

// rowsOf counts the rows of a file that was read without a mistake: lines that
// are not blank. Where tabs set columns apart, one of tabs alone is a row of
// empty cells.
func rowsOf(text string, noHeader, tabs bool) int {
	n := -1
	if noHeader {
		n = 0
	}
	begun := false
	for line := range strings.Lines(strings.TrimPrefix(text, "\uFEFF")) {
		line = strings.TrimSuffix(strings.TrimSuffix(line, "\n"), "\r")
		if blank := strings.TrimSpace(line) == ""; blank && !(tabs && begun && line != "") {
			continue
		}
		begun = true
		n++
	}
	return n
}
