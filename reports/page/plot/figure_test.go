package plot

import (
	"bytes"
	"encoding/xml"
	"math"
	"strings"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func volts() Axis { return Axis{Name: "VBUS", Unit: "V"} }

func clock() Axis { return Axis{Name: "time", Unit: "s"} }

// attach is what a C supply does: cold, then 5 V after 250 ms.
func attach(samples int) Figure {
	f := Figure{
		Title: "VBUS from a C supply (1.5 A, flipped)", Note: "samples 1.162 ms apart", X: clock(), Y: volts(),
		Levels: []Level{{"lowest at a sink", 4}, {"vSafe0V", 0.8}},
		Marks:  []Mark{{"reached", 0.2511}},
	}
	for i := range samples {
		t := float64(i) * 0.00116
		v := 0.002 * math.Sin(float64(i))
		if t > 0.25 {
			v += 5.08 - 0.6*math.Exp(-(t-0.25)/0.01)
		}
		f.Curve = append(f.Curve, Point{t, v})
	}
	return f
}

// awkward are figures that tempt a layout into cutting or overlapping.
func awkward() map[string]Figure {
	constant := func(v float64) []Point { return []Point{{0, v}, {0.5, v}, {1, v}} }
	long := strings.Repeat("a very long name ", 12)
	noisy := make([]Point, 20_000)
	for i := range noisy {
		noisy[i] = Point{float64(i) * 1e-4, 2 + math.Sin(float64(i*i))}
	}
	var crowd []Mark
	for i := range 12 {
		crowd = append(crowd, Mark{"mark number " + string(rune('A'+i)), 0.5 + 0.01*float64(i)})
	}
	var stack []Level
	for i := range 30 {
		stack = append(stack, Level{"level " + string(rune('A'+i)), 1})
	}
	return map[string]Figure{
		"one sample":         {Title: "one", X: clock(), Y: volts(), Curve: []Point{{0, 4.98}}},
		"one sample of zero": {Title: "one", X: clock(), Y: volts(), Curve: []Point{{0, 0}}, Levels: []Level{{"vSafe0V", 0.8}}},
		"constant":           {Title: "flat", X: clock(), Y: volts(), Curve: constant(5)},
		"constant zero":      {Title: "flat", X: clock(), Y: volts(), Curve: constant(0)},
		"constant negative":  {Title: "flat", X: clock(), Y: volts(), Curve: constant(-0.003)},
		"five levels within 1 %": {Title: "close", X: clock(), Y: volts(), Curve: constant(1), Levels: []Level{
			{"a", 1}, {"b", 1.002}, {"c", 1.004}, {"d", 1.006}, {"e", 1.01}}},
		"thirty levels at one": {Title: "stack", X: clock(), Y: volts(), Curve: constant(1), Levels: stack},
		"long labels": {Title: long, Note: long, X: clock(), Y: volts(), Curve: constant(1),
			Levels: []Level{{long, 1}, {strings.Repeat("x", 90), 0.5}}, Marks: []Mark{{long, 0.9}, {long, 0.1}}},
		"marks in a crowd":   {Title: "crowd", X: clock(), Y: volts(), Curve: constant(1), Marks: crowd},
		"marks at the edges": {Title: "edges", X: clock(), Y: volts(), Curve: constant(1), Marks: []Mark{{"begin", 0}, {"end", 1}}},
		"marks far away":     {Title: "far", X: clock(), Y: volts(), Curve: constant(1), Marks: []Mark{{"before", -70}, {"after", 9}}},
		"20,000 samples":     {Title: "noise", X: clock(), Y: volts(), Curve: noisy},
		"tiny values":        {Title: "tiny", X: clock(), Y: Axis{"current", "A", false}, Curve: []Point{{0, 1e-9}, {1e-6, 4e-8}}},
		"huge values":        {Title: "huge", X: clock(), Y: Axis{"count", "1", false}, Curve: []Point{{0, -1e30}, {1e30, 1e30}}},
		"a hair apart":       {Title: "hair", X: clock(), Y: Axis{"temperature", "°C", true}, Curve: []Point{{0, 23}, {1, 23.000000000001}}},
		"at one instant":     {Title: "instant", X: clock(), Y: volts(), Curve: []Point{{3, 1}, {3, 2}, {3, -1}}},
		"strange letters":    {Title: "批次 \u202e<script>", X: clock(), Y: volts(), Curve: constant(1), Levels: []Level{{"限", 1}}},
		"long axes":          {Title: "axes", X: Axis{long, "s", false}, Y: Axis{long, "V", false}, Curve: constant(1)},
		"attach":             attach(970),
	}
}

func TestNothingIsCutAndNoTextLiesOverAnother(t *testing.T) {
	for name, f := range awkward() {
		for _, size := range [][2]float64{{505, 140}, {505, 300}, {300, 140}} {
			t.Run(name, func(t *testing.T) {
				if size[0] < 500 && (name == "long labels" || name == "marks in a crowd") {
					size[1] = 260 // titles and notes wrap to many lines
				}
				drawn(t, f, size[0], size[1]).requireTidy(t, size[0], size[1])
			})
		}
	}
}

func TestEveryNameStandsOnTheFigure(t *testing.T) {
	said := strings.Join(drawn(t, attach(970), 505, 140).said(), "|")
	for _, want := range []string{
		"VBUS from a C supply (1.5 A, flipped)", "samples 1.162 ms apart", "time in s", "VBUS in V",
		"lowest at a sink 4.0\u00a0V", "vSafe0V 0.80\u00a0V", "reached",
	} {
		require.Contains(t, said, want)
	}
}

func TestCurrentsReadInMilliamperes(t *testing.T) {
	f := Figure{Title: "i", X: clock(), Y: Axis{Name: "current", Unit: "A"}, Curve: []Point{{0, 0}, {0.02, 0.3953}},
		Levels: []Level{{"wake threshold", 0.06}}}
	said := strings.Join(drawn(t, f, 505, 140).said(), "|")
	require.Contains(t, said, "current in mA")
	require.Contains(t, said, "|400|")
	require.Contains(t, said, "wake threshold 60\u00a0mA")
	require.Contains(t, said, "time in ms")
	require.NotContains(t, said, "0.4")
}

func TestWhatFindsNoPlaceIsToldInTheNote(t *testing.T) {
	said := strings.Join(drawn(t, awkward()["marks far away"], 505, 140).said(), " ")
	require.Contains(t, said, "before: 70\u00a0s before the first sample; after: 8.0\u00a0s after the last sample")
	said = strings.Join(drawn(t, awkward()["marks in a crowd"], 505, 140).said(), " ")
	for i := range 12 {
		require.Contains(t, said, "mark number "+string(rune('A'+i)))
	}
	said = strings.Join(drawn(t, awkward()["thirty levels at one"], 505, 140).said(), " ")
	require.Regexp(t, `and \d+ more`, said)
}

func TestZeroIsInsideUnlessItMeansNothing(t *testing.T) {
	f := Figure{X: clock(), Y: volts(), Curve: []Point{{0, 5}, {1, 5.1}}}
	_, _, low, _ := f.extent()
	require.LessOrEqual(t, low, 0.0)
	f.Y = Axis{"temperature", "°C", true}
	_, _, low, _ = f.extent()
	require.Greater(t, low, 4.9)
}

func TestValidateNamesWhatCannotBeDrawn(t *testing.T) {
	good := []Point{{0, 1}}
	cases := []struct {
		name string
		f    Figure
		text string
	}{
		{"no points", Figure{Title: "t"}, "plot: t: no points: cannot be drawn"},
		{"not a number", Figure{Title: "t", Curve: []Point{{0, math.NaN()}}}, "plot: t: point 1 is (0, NaN): cannot be drawn"},
		{"infinite", Figure{Title: "t", Curve: []Point{{0, math.Inf(1)}}}, "plot: t: point 1 is (0, +Inf): cannot be drawn"},
		{"out of range", Figure{Title: "t", Curve: []Point{{0, 1}, {1, 2e30}}}, "plot: t: point 2 is (1, 2e+30): cannot be drawn"},
		{"back in time", Figure{Title: "t", Curve: []Point{{1, 1}, {0, 2}}}, "plot: t: point 2 at 0 lies before the one at 1: cannot be drawn"},
		{"level", Figure{Title: "t", Curve: good, Levels: []Level{{"l", math.Inf(-1)}}}, `plot: t: level "l" is -Inf: cannot be drawn`},
		{"mark", Figure{Title: "t", Curve: good, Marks: []Mark{{"m", math.NaN()}}}, `plot: t: mark "m" is at NaN: cannot be drawn`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.EqualError(t, c.f.Validate(), c.text)
			require.ErrorIs(t, c.f.Validate(), ErrNotDrawable)
			_, err := c.f.SVG(400, 150)
			require.ErrorIs(t, err, ErrNotDrawable)
			require.ErrorIs(t, c.f.Draw(fpdf.New("P", "pt", "A4", ""), 0, 0, 400, 150), ErrNotDrawable)
			require.Equal(t, "t", c.f.Description())
		})
	}
}

func TestSVGIsWellFormedSmallAndTheSameEachTime(t *testing.T) {
	for name, f := range awkward() {
		t.Run(name, func(t *testing.T) {
			first, err := f.SVG(505, 140)
			require.NoError(t, err)
			again, err := f.SVG(505, 140)
			require.NoError(t, err)
			require.Equal(t, string(first), string(again))
			require.NoError(t, xml.Unmarshal(first, new(struct{})), "must be well-formed")
			require.NotContains(t, string(first), "NaN")
			require.NotContains(t, string(first), "<script")
			require.Less(t, len(first), 40_000, "even for 20,000 samples of noise")
		})
	}
	svg, err := attach(970).SVG(505, 140)
	require.NoError(t, err)
	require.Less(t, len(svg), 8_000, "an attach of 970 samples")
}

func TestDescriptionTellsWhatIsSeen(t *testing.T) {
	require.Equal(t, "VBUS from a C supply (1.5 A, flipped): VBUS from -0.0020\u00a0V to 5.082\u00a0V over 1.124\u00a0s; "+
		"lowest at a sink 4.0\u00a0V; vSafe0V 0.80\u00a0V", attach(970).Description())
}

func TestPDFIsTheSameEachTime(t *testing.T) {
	require.Equal(t, document(t, attach(970)), document(t, attach(970)))
}

// document is a PDF with one figure, its page not compressed.
func document(t testing.TB, f Figure) string {
	t.Helper()
	pdf := fpdf.New("P", "pt", "A4", "")
	pdf.SetCreationDate(time.Unix(0, 0).UTC()) // else that of the clock
	pdf.SetModificationDate(time.Unix(0, 0).UTC())
	pdf.SetCompression(false)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(pdf.GetModificationDate())
	AddFonts(pdf)
	pdf.AddPage()
	require.NoError(t, f.Draw(pdf, 50, 60, 505, 140))
	var out bytes.Buffer
	require.NoError(t, pdf.Output(&out))
	return out.String()
}

func TestAnyFigureIsTidy(t *testing.T) {
	label := rapid.StringMatching(`[A-Za-z0-9 .]{0,40}`)
	rapid.Check(t, func(rt *rapid.T) {
		f := Figure{
			Title: label.Draw(rt, "title"), Note: label.Draw(rt, "note"), X: clock(),
			Y: Axis{"y", rapid.SampledFrom([]string{"V", "A", "Ω", "1", "°C", "V/s"}).Draw(rt, "unit"), rapid.Bool().Draw(rt, "floating")},
		}
		scale := math.Pow(10, float64(rapid.IntRange(-9, 9).Draw(rt, "scale")))
		x := 0.0
		for range rapid.IntRange(1, 40).Draw(rt, "points") {
			x += rapid.Float64Range(0, 0.2).Draw(rt, "step")
			f.Curve = append(f.Curve, Point{x, scale * rapid.Float64Range(-1, 1).Draw(rt, "y")})
		}
		for range rapid.IntRange(0, 7).Draw(rt, "levels") {
			f.Levels = append(f.Levels, Level{"l" + label.Draw(rt, "level"), scale * rapid.Float64Range(-2, 2).Draw(rt, "at")})
		}
		for range rapid.IntRange(0, 4).Draw(rt, "marks") {
			f.Marks = append(f.Marks, Mark{"m" + label.Draw(rt, "mark"), rapid.Float64Range(-2, 8).Draw(rt, "when")})
		}
		r := &surfaceLog{}
		if err := f.draw(newCanvas(r, 0, 0, 200), 505, 200); err != nil {
			rt.Fatal(err)
		}
		r.requireTidy(t, 505, 200)
	})
}
