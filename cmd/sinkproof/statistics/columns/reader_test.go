package columns

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// read returns the numbers of a column, or the first error.
func read(text, column string, f Format) ([]float64, error) {
	r, err := NewReader(strings.NewReader(text), "a.csv", f)
	if err != nil {
		return nil, err
	}
	at, err := r.Find(column)
	if column == "" {
		at, err = r.Only()
	}
	if err != nil {
		return nil, err
	}
	var out []float64
	for {
		if err := r.Next(); errors.Is(err, io.EOF) {
			return out, nil
		} else if err != nil {
			return nil, err
		}
		if r.Empty(at) {
			continue
		}
		v, err := r.Number(at)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
}

func TestRead(t *testing.T) {
	for _, c := range []struct {
		name, text, column string
		format             Format
		want               []float64
	}{
		{"one column", "v\n1\n-2.5e-3\n+4.\n", "", Format{}, []float64{1, -0.0025, 4}},
		{"no line end at the end", "v\n1\n2", "v", Format{}, []float64{1, 2}},
		{"commas", "part,v\na,1\nb,2\n", "v", Format{}, []float64{1, 2}},
		{"semicolons", "part;v\na;1\n", "v", Format{}, []float64{1}},
		{"tabs", "part\tv\na\t1\n", "v", Format{}, []float64{1}},
		{"spaces around", " part , v \n a , 1 \n", "v", Format{}, []float64{1}},
		{"Windows line ends", "v\r\n1\r\n2\r\n", "v", Format{}, []float64{1, 2}},
		{"byte-order mark", "\uFEFFv\n1\n", "v", Format{}, []float64{1}},
		{"byte-order mark before a quote", "\uFEFF\"v\"\n1\n", "v", Format{}, []float64{1}},
		{"quoted", "\"a, b\",\"v\"\n\"x \"\"y\"\"\",\"1\"\n", "v", Format{}, []float64{1}},
		{"a field over two lines", "a,v\n\"x\r\ny\",1\nz,2\n", "v", Format{}, []float64{1, 2}},
		{"a quote inside a plain field", "a,v\n5\" disc,1\n", "v", Format{}, []float64{1}},
		{"blank lines", "\n\na,v\nx,1\n\ny,2\n\n", "v", Format{}, []float64{1, 2}},
		{"blank lines at the end of one column", "v\n1\n\n\n", "", Format{}, []float64{1}},
		{"decimal commas", "a;v\nx;1,5\ny;-2,25e1\n", "v", Format{DecimalComma: true}, []float64{1.5, -22.5}},
		{"decimal commas in one column", "v\n1,5\n2\n", "", Format{DecimalComma: true}, []float64{1.5, 2}},
		{"decimal commas in quotes", "a,v\nx,\"1,5\"\n", "v", Format{DecimalComma: true}, []float64{1.5}},
		{"no header", "1.5\n2.5\n", "1", Format{NoHeader: true}, []float64{1.5, 2.5}},
		{"no header, two columns", "x,1\ny,2\n", "2", Format{NoHeader: true}, []float64{1, 2}},
		{"no header, decimal commas", "1,5\n2,5\n", "", Format{NoHeader: true, DecimalComma: true}, []float64{1.5, 2.5}},
		{"a name that is a number", "2024\n7\n", "2024", Format{}, []float64{7}},
		{"rows without a value left out", "a,v\nx,1\ny,\nz,3\n", "v", Format{SkipEmpty: true}, []float64{1, 3}},
		{"blank lines left out", "v\n1\n\n3\n", "v", Format{SkipEmpty: true}, []float64{1, 3}},
		{"other columns may hold anything", "v,w\n1,abc\n2,\n", "v", Format{}, []float64{1, 2}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := read(c.text, c.column, c.format)
			require.NoError(t, err)
			require.Equal(t, c.want, got)
		})
	}
}

// TestMistakes: what is wrong, where, and what to do.
func TestMistakes(t *testing.T) {
	wide := strings.TrimSuffix(strings.Repeat("c,", 30_000), ",")
	for _, c := range []struct {
		name, text, column string
		format             Format
		want, hint         string
	}{
		{"empty", "", "v", Format{}, "a.csv: empty", "line of column names"},
		{"blank", "\n \n", "v", Format{}, "a.csv: empty", ""},
		{"no such column", "a,b\n1,2\n", "v", Format{}, `a.csv: no column "v"; there is "a", "b"`, ""},
		{"two of a name", "v,v\n1,2\n", "v", Format{}, `two columns are called "v"`, "rename"},
		{"which column", "a,b\n1,2\n", "", Format{}, `which column holds the values? There is "a", "b"`, "--value"},
		{"no header", "1.5\n2.5\n", "", Format{}, `line 1: "1.5" stands where the name`, "--no-header"},
		{"no header, named", "1.5\n2.5\n", "v", Format{}, `no column "v"`, "--no-header"},
		{"header without names", ",,\n1,2,3\n", "v", Format{}, "header without names", ""},
		{"text among numbers", "a,v\nx,1\ny,abc\n", "v", Format{}, `a.csv: line 3, column "v": "abc" is no number`, ""},
		{"line after a field over two", "a,v\n\"x\ny\",1\nz,abc\n", "v", Format{}, `line 4, column "v"`, ""},
		{"unit", "v\n4.75 V\n", "v", Format{}, `"4.75 V" is no number`, ""},
		{"not a number", "v\nNaN\n", "v", Format{}, `"NaN" is no value`, ""},
		{"infinity", "v\n-Inf\n", "v", Format{}, `"-Inf" is no value`, ""},
		{"hexadecimal", "v\n0x1p-2\n", "v", Format{}, `"0x1p-2" is no number`, ""},
		{"underscores", "v\n1_000\n", "v", Format{}, `"1_000" is no number`, ""},
		{"beyond a double", "v\n1e400\n", "v", Format{}, "too large", "larger unit"},
		{"beyond its fourth power", "v\n-1e80\n", "v", Format{}, "too large", "larger unit"},
		{"only a sign", "v\n-\n", "v", Format{}, `"-" is no number`, ""},
		{"empty cell", "a,v\nx,1\ny,\n", "v", Format{}, `line 3, column "v": empty`, "--skip-empty"},
		{"blank line in one column", "v\n1\n\n3\n", "v", Format{}, `line 3, column "v": empty`, "--skip-empty"},
		{"decimal comma", "a;v\nx;1,5\n", "v", Format{}, `"1,5" has a comma`, "--decimal-comma"},
		{"decimal comma, quoted", "a,v\nx,\"1,5\"\n", "v", Format{}, `"1,5" has a comma`, "--decimal-comma"},
		{"decimal comma that parts a field", "v\n1,5\n", "v", Format{}, "2 fields, but the header has 1; are there decimal commas?", "--decimal-comma"},
		{"point among decimal commas", "v\n1.234,5\n", "v", Format{DecimalComma: true}, "decimal point", "thousands"},
		{"field missing", "a,v\nx\n", "v", Format{}, "line 2: 1 field, but the header has 2", ""},
		{"open quote", "a,v\n\"x,1\n", "v", Format{}, "line 2: a quoted field does not end", ""},
		{"text after a quote", "a,v\n\"x\"y,1\n", "v", Format{}, "text after the closing quote", "doubled"},
		{"zero byte", "v\n1\x002\n", "v", Format{}, "line 2: byte 0x00: the file is not text", "CSV"},
		{"archive", "PK\x03\x04abc", "v", Format{}, "line 1: byte 0x03: the file is not text", "CSV"},
		{"UTF-16", "\xFF\xFEv\x00", "v", Format{}, "UTF-16", "UTF-8"},
		{"Latin-1", "gr\xF6\xDFe\n1\n", "v", Format{}, "not text in UTF-8", "UTF-8"},
		{"carriage returns alone", "v\r1\r2\r", "v", Format{}, "carriage return", "line ends"},
		{"columns", wide + "\n", "v", Format{}, "more than 20000 columns", "keep those"},
		{"a million columns", strings.Repeat("c,", 1_000_000) + "\n", "v", Format{}, "columns", "keep those"},
		{"a million columns of longer names", strings.Repeat("column with a name,", 1_000_000), "v", Format{}, "columns", "keep those"},
		{"a million quoted columns", strings.Repeat(`"c",`, 30_000) + "\n", "v", Format{}, "more than 20000 columns", "keep those"},
		{"a line without end", strings.Repeat("x", 3<<20), "v", Format{}, "goes on beyond 1024 KiB", ""},
		{"a field without end", "v\n\"" + strings.Repeat("x\n", 1<<20), "v", Format{}, "does not end", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := read(c.text, c.column, c.format)
			var m *Mistake
			require.ErrorAs(t, err, &m)
			require.ErrorContains(t, err, c.want)
			require.Contains(t, m.Hint, c.hint)
			require.Less(t, len(err.Error()), 900, "a message stays a message")
		})
	}
}

func TestOnlyLeavesOutTheNamed(t *testing.T) {
	r, err := NewReader(strings.NewReader("part,v\n"), "a.csv", Format{})
	require.NoError(t, err)
	at, err := r.Only("part")
	require.NoError(t, err)
	require.Equal(t, 1, at)
	require.Equal(t, []string{"part", "v"}, r.Names())
}

func TestATroubleOfReadingIsNoMistakeOfTheFile(t *testing.T) {
	broken := errors.New("cable pulled")
	in := io.MultiReader(strings.NewReader("v\n1\n"), iotest.ErrReader(broken))
	r, err := NewReader(in, "a.csv", Format{})
	require.NoError(t, err)
	require.NoError(t, r.Next())
	require.ErrorIs(t, r.Next(), broken)
	require.ErrorIs(t, r.Next(), broken, "and stays")
}

func TestLongNamesAreShortened(t *testing.T) {
	_, err := read(strings.Repeat("n", 5000)+"\n1\n", "v", Format{})
	require.ErrorContains(t, err, `nnn…"`)
	require.Less(t, len(err.Error()), 200)
	var names []string
	for i := range 40 {
		names = append(names, fmt.Sprint("c", i))
	}
	_, err = read(strings.Join(names, ",")+"\n", "v", Format{})
	require.ErrorContains(t, err, "and 28 more")
}

// TestPlainIsParseFloat: the quick way gives the same doubles.
func TestPlainIsParseFloat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[-+]?[0-9]{0,16}(\.[0-9]{0,15})?`).Draw(t, "text")
		v, ok := plain([]byte(text))
		want, err := strconv.ParseFloat(text, 64)
		if ok {
			require.NoError(t, err)
			require.Equal(t, math.Float64bits(want), math.Float64bits(v), text)
		}
		if digits := strings.Trim(text, "+-."); err == nil && len(digits) <= 15 {
			require.True(t, ok || len(text) > 17, "%q is read the quick way", text)
		}
	})
	for _, text := range []string{"", "-", ".", "+.", "1e5", "1.2.3", "1,5", "0x1", "nan", "1234567890123456"} {
		_, ok := plain([]byte(text))
		require.False(t, ok, text)
	}
}
