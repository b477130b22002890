package plot

import (
	"cmp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"
)

func TestSpreadKeepsLabelsApartAndInside(t *testing.T) {
	same := func(y float64) vg.Length { return vg.Length(y) }
	rapid.Check(t, func(t *rapid.T) {
		var labels []label
		for range rapid.IntRange(0, 20).Draw(t, "labels") {
			labels = append(labels, label{rapid.Float64Range(0, 100).Draw(t, "y"),
				make([]string, rapid.IntRange(1, 3).Draw(t, "lines"))})
		}
		slices.SortStableFunc(labels, func(a, b label) int { return cmp.Compare(a.y, b.y) })
		slots := spread(labels, same, 0, 100)
		floor := vg.Length(0)
		for _, s := range slots {
			require.GreaterOrEqual(t, s.at-s.height()/2, floor-1e-9, "labels overlap or leave the bottom")
			floor = s.at + s.height()/2
		}
		require.LessOrEqual(t, floor, vg.Length(100+1e-9), "the last label leaves the top")
	})
}

func TestSpreadLeavesLabelsWhereTheyFit(t *testing.T) {
	slots := spread([]label{{10, []string{"a"}}, {80, []string{"b"}}}, func(y float64) vg.Length { return vg.Length(y) }, 0, 100)
	require.Equal(t, vg.Length(10), slots[0].at)
	require.Equal(t, vg.Length(80), slots[1].at)
	require.False(t, slots[0].lead || slots[1].lead)
}

func TestSpreadCountsWhatFindsNoPlace(t *testing.T) {
	labels := make([]label, 10)
	for i := range labels {
		labels[i] = label{50, []string{"x"}}
	}
	slots := spread(labels, func(y float64) vg.Length { return vg.Length(y) }, 0, 4*labelLead)
	require.Len(t, slots, 4)
	require.Equal(t, []string{"and 7 more"}, slots[3].lines)
	require.True(t, slots[0].lead, "a label that was pushed away is led to its line")
}

// perLetter measures a text as its number of letters.
func perLetter(s string) float64 { return float64(len([]rune(s))) }

func TestWrap(t *testing.T) {
	cases := []struct {
		name, text string
		want       []string
	}{
		{"empty", "", nil},
		{"fits", "two words", []string{"two words"}},
		{"at the space", "twelve letters", []string{"twelve", "letters"}},
		{"a no-break space holds", "at 4.75\u00a0V or", []string{"at 4.75\u00a0V", "or"}},
		{"long word", "abcdefghijklmno", []string{"abcdefghij", "klmno"}},
		{"long word after a short", "ab cdefghijklmnop", []string{"ab", "cdefghijkl", "mnop"}},
		{"wide letters", "äöüäöüäöüäöü", []string{"äöüäöüäöüä", "öü"}},
		{"own line ends", "a\nb", []string{"a", "b"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, Wrap(c.text, 10, perLetter)) })
	}
}

func TestWrapLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[a-zä ]{0,60}`).Draw(t, "text")
		width := rapid.IntRange(0, 20).Draw(t, "width")
		lines := Wrap(text, float64(width), perLetter)
		plain := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		require.Equal(t, plain(text), plain(strings.Join(lines, "")))
		for _, l := range lines {
			require.LessOrEqual(t, perLetter(l), float64(max(width, 1)))
		}
	})
}

func TestVisible(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"plain", `a "b" <c> Ω 中`, `a "b" <c> Ω 中`},
		{"turned around", "SN\u202e123", "SN‹U+202E›123"},
		{"nothing", "a\u200bb", "a‹U+200B›b"},
		{"control", "a\x00b\x1b[31m", "a‹U+0000›b‹U+001B›[31m"},
		{"line end", "a\nb\tc", "a b c"},
		{"private", "\ue000", "‹U+E000›"},
		{"not UTF-8", "a\xffb", "a‹U+FFFD›b"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, Visible(c.text)) })
	}
}

func TestPrintable(t *testing.T) {
	cases := []struct{ name, text, want string }{
		{"in the font", "5.1 kΩ ± 10 %, ≥ 4.75 V, µF, Łódź, Ж", "5.1 kΩ ± 10 %, ≥ 4.75 V, µF, Łódź, Ж"},
		{"the other ohm", "\u2126", "Ω"},
		{"narrow space", "1\u202f000", "1 000"},
		{"no-break hyphen", "A\u2011B\u2010C", "A-B-C"},
		{"full width", "ＡＢ１", "AB1"},
		{"decomposed", "e\u0301", "é"},
		{"Chinese", "批次", "‹U+6279›‹U+6B21›"},
		{"beyond the first plane", "😀", "‹U+1F600›"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { require.Equal(t, c.want, Printable(c.text)) })
	}
}

func TestPrintableIsInTheFont(t *testing.T) {
	f, err := typeface()
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		for _, r := range Printable(rapid.String().Draw(t, "text")) {
			i, err := f.regular.GlyphIndex(nil, r)
			require.NoError(t, err)
			require.NotZero(t, i, "%U has no glyph", r)
		}
	})
}
