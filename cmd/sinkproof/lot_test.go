package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestSerialsAreCountedUp(t *testing.T) {
	for name, c := range map[string]struct {
		first string
		size  int
		want  []string
		says  string
	}{
		"with leading zeros":   {"HL-0099", 3, []string{"HL-0099", "HL-0100", "HL-0101"}, ""},
		"over the last digit":  {"B9", 2, []string{"B9", "B10"}, ""},
		"digits alone":         {"07", 2, []string{"07", "08"}, ""},
		"no number":            {"HL-", 2, nil, "ends in no number"},
		"a number too long":    {"H99999999999999999999", 2, nil, "ends in no number"},
		"one unit":             {"HL-1", 1, nil, "a lot has 2 to"},
		"too many":             {"HL-1", mostUnits + 1, nil, "a lot has 2 to"},
		"not ASCII":            {"Ä1", 2, nil, "printable ASCII"},
		"too long as it grows": {strings.Repeat("x", 63) + "9", 2, nil, "1 to 64"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := countedFrom(c.first, c.size)
			if c.says != "" {
				require.ErrorContains(t, err, c.says)
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.want, got)
		})
	}
}

func TestSerialsAreListed(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want []string
		says string
	}{
		"plain":                         {"A\nB\n", []string{"A", "B"}, ""},
		"Windows, mark and empty lines": {"\ufeffA\r\n\r\n B \r\nC", []string{"A", "B", "C"}, ""},
		"empty":                         {"", nil, "0 serials: a lot has 2 to"},
		"twice":                         {"A\n\nA\n", nil, "line 3: serial \"A\" stands in line 1"},
		"not a text":                    {"A\n\x00\x01\n", nil, "line 2"},
		"a line without end":            {"A\n" + strings.Repeat("x", 1<<17), nil, "line 2"},
		"a table":                       {"A;B\nC\tD\n", nil, "line 2"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := serialList("list.txt", []byte(c.text))
			if c.says != "" {
				require.ErrorContains(t, err, c.says)
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.want, got)
		})
	}
}

// FuzzSerialList: whatever the file holds, what is read are serials, each once,
// that read the same again.
func FuzzSerialList(f *testing.F) {
	for _, text := range []string{"A\nB\n", "\ufeffA\r\nB", "A\nA", "\x00", strings.Repeat("x", 70)} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := serialList("list.txt", data)
		if err != nil {
			return
		}
		seen := map[string]bool{}
		for _, s := range list {
			require.NoError(t, record.ValidSerial(s))
			require.False(t, seen[s])
			seen[s] = true
		}
		again, err := serialList("list.txt", []byte(strings.Join(list, "\n")))
		require.NoError(t, err)
		require.Equal(t, list, again)
	})
}
