package plot

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Wrap breaks a text into lines of at most a width, at spaces and at its own
// line ends. A word that is wider than the line is broken inside. No-break
// spaces hold. measure returns the width of a text. An empty text has no
// lines.
func Wrap(text string, width float64, measure func(string) float64) []string {
	if text == "" {
		return nil
	}
	var lines []string
	for _, part := range strings.Split(text, "\n") {
		line := ""
		for _, word := range strings.Split(part, " ") {
			if line != "" && measure(line+" "+word) <= width {
				line += " " + word
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			for {
				cut := fit(word, width, measure)
				if cut == len(word) {
					break
				}
				lines, word = append(lines, word[:cut]), word[cut:]
			}
			line = word
		}
		lines = append(lines, line)
	}
	return lines
}

// fit returns the number of bytes of a text that stay within a width, at
// least those of one rune. It looks no further than the line is long, so that
// a text of a megabyte without a space takes no longer than its lines.
func fit(text string, width float64, measure func(string) float64) int {
	last := 0
	for i := range text {
		if last > 0 && measure(text[:i]) > width {
			return last
		}
		last = i
	}
	if last == 0 || measure(text) <= width {
		return len(text)
	}
	return last
}

// Visible replaces what a reader could not see or what would turn a line
// around - controls, marks of writing direction, private and unassigned code
// points - by its code point: "‹U+202E›". A serial that looks like another
// one must not be another one. Line ends and tabs become spaces.
func Visible(text string) string {
	return mapped(text, func(r rune) bool {
		return unicode.IsGraphic(r) && r != unicode.ReplacementChar && !unicode.Is(unicode.Variation_Selector, r)
	})
}

// Printable replaces what the house's font has no glyph for: by what Unicode
// calls compatible where the font has that (the no-break hyphen by the
// hyphen), else by its code point in visible form: "‹U+4E2D›".
func Printable(text string) string {
	f, err := typeface()
	if err != nil {
		return text // the fonts are embedded; drawing reports the error
	}
	has := func(r rune) bool {
		if r >= ' ' && r <= '~' {
			return true
		}
		i, err := f.regular.GlyphIndex(nil, r)
		return err == nil && i != 0
	}
	text = norm.NFC.String(text)
	return mapped(alike(text, has), has)
}

// mapped replaces each rune that is not kept by its code point.
func mapped(text string, keep func(rune) bool) string {
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			b.WriteByte(' ')
		case keep(r):
			b.WriteRune(r)
		default:
			fmt.Fprintf(&b, "‹U+%04X›", r)
		}
	}
	return b.String()
}

// alike replaces runes that the font lacks by their compatible form (Unicode
// Standard Annex 15) where the font has that.
func alike(text string, has func(rune) bool) string {
	var b strings.Builder
	for _, r := range text {
		if has(r) {
			b.WriteRune(r)
			continue
		}
		same := norm.NFKC.String(string(r))
		if same == "\u2010" {
			same = "-" // the hyphen that differs from it only by its name
		}
		if strings.IndexFunc(same, func(r rune) bool { return !has(r) }) < 0 {
			b.WriteString(same)
			continue
		}
		b.WriteRune(r)
	}
	return b.String()
}

// printable returns the figure with every text in glyphs of the font.
func (f Figure) printable() Figure {
	set := func(t string) string { return Printable(Visible(t)) }
	f.Title, f.Note = set(f.Title), set(f.Note)
	f.X.Name, f.X.Unit, f.Y.Name, f.Y.Unit = set(f.X.Name), set(f.X.Unit), set(f.Y.Name), set(f.Y.Unit)
	f.XTicks, f.YTicks = setTicks(f.XTicks, set), setTicks(f.YTicks, set)
	f.Series = slices.Clone(f.Series)
	for i := range f.Series {
		f.Series[i].Name = set(f.Series[i].Name)
	}
	levels, marks := f.Levels, f.Marks
	f.Levels, f.Marks = make([]Level, len(levels)), make([]Mark, len(marks))
	for i, l := range levels {
		f.Levels[i] = Level{set(l.Label), l.Y}
	}
	for i, m := range marks {
		f.Marks[i] = Mark{set(m.Label), m.X}
	}
	return f
}

func setTicks(list []Tick, set func(string) string) []Tick {
	var out []Tick
	for _, t := range list {
		out = append(out, Tick{t.At, set(t.Label)})
	}
	return out
}
