package page

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// element is a start tag of a page.
type element struct {
	name  string
	attrs map[string]string
}

// parsed reads a page with a parser that knows nothing of how it was made,
// and returns its elements and its text.
func parsed(t testing.TB, page []byte) (elements []element, text string) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(page))
	d.Strict = false
	d.AutoClose = xml.HTMLAutoClose
	d.Entity = xml.HTMLEntity
	var words strings.Builder
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return elements, words.String()
		}
		require.NoError(t, err)
		switch x := token.(type) {
		case xml.StartElement:
			e := element{x.Name.Local, map[string]string{}}
			for _, a := range x.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			elements = append(elements, e)
		case xml.CharData:
			words.Write(x)
		}
	}
}

func html(t testing.TB, run record.Run) []byte {
	t.Helper()
	out, err := NewReport(run, proof()).HTML()
	require.NoError(t, err)
	return out
}

// releasedRuns are the runs of every released schema version.
func releasedRuns(t testing.TB) []record.Run {
	t.Helper()
	var runs []record.Run
	for _, version := range []string{"testdata/v1.jsonl"} {
		data, err := os.ReadFile(version)
		require.NoError(t, err)
		for _, line := range bytes.Split(bytes.TrimSpace(data), []byte("\n")) {
			e, err := record.DecodeEntry(line)
			require.NoError(t, err)
			if run, err := record.DecodeRun(e.Body); err == nil {
				runs = append(runs, run)
			}
		}
	}
	require.NotEmpty(t, runs)
	return runs
}

func TestReleasedRecordsRenderForEver(t *testing.T) {
	for _, run := range releasedRuns(t) {
		r := NewReport(run, proof())
		page, err := r.HTML()
		require.NoError(t, err)
		_, text := parsed(t, page)
		requireWholeReport(t, r, text)
		pdf, err := r.PDF()
		require.NoError(t, err)
		requireWholeReport(t, r, pdfText(t, pdf))
	}
}

// requireWholeReport demands that a document says what the view says.
func requireWholeReport(t testing.TB, r Report, text string) {
	t.Helper()
	flat := squeezed(text)
	want := []string{r.Serial, r.Verdict, r.Bin, r.Counts}
	for _, g := range r.Groups {
		want = append(want, g.Title)
		for _, c := range g.Checks {
			want = append(want, c.Title, c.Value, c.Limits, c.Accepted, c.Answer, c.Why)
		}
	}
	for _, s := range r.Sources {
		want = append(want, s.Text)
	}
	for _, x := range r.Trouble {
		want = append(want, x.Consequences)
	}
	for _, rows := range [][]Row{r.Identity, r.Evidence, r.Notes, r.Hidden} {
		for _, row := range rows {
			want = append(want, row.Label, row.Text)
		}
	}
	for _, w := range r.Rework {
		want = append(want, w.Title, w.Text, w.Likely, w.Checks)
	}
	for _, f := range r.Figures {
		want = append(want, f.Title, f.Note)
	}
	want = append(want, Cautions()...)
	for _, w := range append(want, Limitations()...) {
		require.Contains(t, flat, squeezed(w))
	}
}

// squeezed is a text without spaces: where lines break does not matter.
func squeezed(s string) string { return strings.Join(strings.Fields(s), "") }

func TestPageSaysWhatTheViewSays(t *testing.T) {
	for _, run := range []record.Run{richRun(), longRun()} {
		_, text := parsed(t, html(t, run))
		requireWholeReport(t, NewReport(run, proof()), text)
	}
}

func TestTwinIsSaidOnTheFirstScreen(t *testing.T) {
	run := richRun()
	require.NotContains(t, string(html(t, run)), "Simulated bench")
	run.Bench.Kind = record.Twin
	page := string(html(t, run))
	require.Less(t, strings.Index(page, "Simulated bench"), strings.Index(page, `class="verdict`))
}

func TestSameRecordGivesTheSameBytes(t *testing.T) {
	want := html(t, richRun())
	wantPDF := pdf(t, richRun())
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			r := NewReport(richRun(), proof())
			page, err := r.HTML()
			require.NoError(t, err)
			require.Equal(t, string(want), string(page))
			printed, err := r.PDF()
			require.NoError(t, err)
			require.True(t, bytes.Equal(wantPDF, printed))
		})
	}
	wg.Wait()
}

// One view may be printed by two goroutines at once.
func TestOneViewServesTwo(t *testing.T) {
	r := NewReport(richRun(), proof())
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			_, err := r.PDF()
			require.NoError(t, err)
			_, err = r.HTML()
			require.NoError(t, err)
		})
	}
	wg.Wait()
}

func TestPageNeedsNothingFromOutside(t *testing.T) {
	page := html(t, longRun())
	elements, _ := parsed(t, page)
	for _, e := range elements {
		require.NotContains(t, []string{"script", "link", "img", "iframe", "object", "base", "form"}, e.name)
		for name := range e.attrs {
			require.NotContains(t, []string{"src", "href", "action", "srcset", "data"}, name)
			require.False(t, strings.HasPrefix(name, "on"), "no handlers: %s", name)
		}
	}
	require.NotContains(t, string(page), "http:")
	require.NotContains(t, string(page), "https:")
	require.NotContains(t, string(page), "url(")
	require.NotContains(t, string(page), "@import")
	require.Contains(t, string(page), "default-src 'none'")
}

// nasty is what a record may hold in each of its texts.
func nasty(run record.Run) record.Run {
	evil := `"><script>alert(1)</script>&amp;'` + strings.Repeat("W", 120) + " \u202e批次 </style>"
	run.Serial = `LMP-"<script>'&;01`
	run.Lot, run.Supplier, run.Product, run.AllowedBy = evil, evil, evil, evil
	run.Bench.Name, run.Bench.Program, run.Bench.Computer, run.Bench.Calibration = evil, evil, evil, evil
	run.Reason, run.Files[0].Name = evil, evil
	for i := range run.Checks {
		c := &run.Checks[i]
		c.Title, c.Why, c.Rework = evil+c.Title, evil+c.Why, evil
		for _, l := range []*record.Limit{c.Lower, c.Upper} {
			if l != nil {
				l.Source = evil
			}
		}
	}
	for i := range run.Notes {
		run.Notes[i].Kind, run.Notes[i].Text = evil, evil
	}
	for i := range run.NotObservable {
		run.NotObservable[i].Title, run.NotObservable[i].Why = evil, evil
	}
	for i := range run.Suspects {
		run.Suspects[i].Title, run.Suspects[i].Rework = evil, evil
	}
	for i := range run.Waveforms {
		w := &run.Waveforms[i]
		w.Title, w.Channel, w.Thresholds[0].Label, w.Marks[0].Label = evil, evil, evil, evil
	}
	run.Fault = &record.BenchFault{What: evil, Hint: evil}
	return run
}

func TestTextsOfARecordCannotBecomeMarkup(t *testing.T) {
	plain, _ := parsed(t, html(t, richRun()))
	elements, text := parsed(t, html(t, nasty(richRun())))
	count := func(list []element) map[string]int {
		n := map[string]int{}
		for _, e := range list {
			n[e.name]++
		}
		return n
	}
	was, is := count(plain), count(elements)
	for name := range is {
		require.NotZero(t, was[name], "element %q came in with a text", name)
	}
	require.Contains(t, text, `LMP-"<script>'&;01`)
	require.Contains(t, text, `<script>alert(1)</script>&amp;'`)
	require.NotContains(t, text, "\u202e", "a reader must see what turns a line around")
	require.Contains(t, text, "‹U+202E›")
	require.Contains(t, text, "批次", "a browser has the letters")
}

func TestPageCanBeReadByEar(t *testing.T) {
	elements, _ := parsed(t, html(t, richRun()))
	require.Equal(t, "en", elements[0].attrs["lang"])
	level, mains, scopes := 0, 0, 0
	for _, e := range elements {
		switch e.name {
		case "h1", "h2", "h3":
			next := int(e.name[1] - '0')
			require.LessOrEqual(t, next, level+1, "headings skip no level")
			level = next
		case "main":
			mains++
		case "th":
			require.Contains(t, []string{"col", "row", "rowgroup"}, e.attrs["scope"])
			scopes++
		case "svg":
			require.Equal(t, "img", e.attrs["role"])
			require.NotEmpty(t, e.attrs["aria-label"])
		}
	}
	require.Equal(t, 1, mains)
	require.Equal(t, 5+7+8, scopes, "titles, groups and questions head their cells")
}

func TestPageIsSmall(t *testing.T) {
	require.Less(t, len(html(t, longRun())), 200_000)
}

// Contrast of every text on its ground is at least 4.5:1 (WCAG 2.2, 1.4.3);
// the formulas are those of its definitions of contrast and luminance.
func TestContrast(t *testing.T) {
	tint := map[string][3]float64{"white": {1, 1, 1}}
	for _, m := range regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{6})`).FindAllStringSubmatch(styleSheet, -1) {
		tint[m[1]] = channels(t, m[2])
	}
	for _, ground := range []string{"white", "wash", "bad-wash", "open-wash"} {
		for _, ink := range []string{"ink", "quiet", "good", "bad", "open"} {
			require.Contains(t, tint, ground)
			require.Contains(t, tint, ink)
			a, b := luminance(tint[ground]), luminance(tint[ink])
			require.GreaterOrEqual(t, (a+0.05)/(b+0.05), 4.5, "%s on %s", ink, ground)
		}
	}
}

func TestSheetHasTheTintsOfThePage(t *testing.T) {
	for name, c := range map[string]tint{"ink": inkText, "quiet": quiet, "rule": hair, "wash": wash, "good": good,
		"bad": bad, "open": open, "bad-wash": badWash, "open-wash": opnWash} {
		r, g, b := c.rgb()
		want := channels(t, regexp.MustCompile(`--` + name + `: #([0-9a-f]{6})`).FindStringSubmatch(styleSheet)[1])
		require.Equal(t, want, [3]float64{float64(r) / 255, float64(g) / 255, float64(b) / 255}, name)
	}
}

func channels(t testing.TB, hex string) (c [3]float64) {
	t.Helper()
	for i := range c {
		for _, d := range hex[2*i : 2*i+2] {
			c[i] = c[i]*16 + float64(strings.IndexRune("0123456789abcdef", d))
		}
		c[i] /= 255
	}
	return c
}

func luminance(c [3]float64) float64 {
	for i, v := range c {
		if v <= 0.04045 {
			c[i] = v / 12.92
		} else {
			c[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return 0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]
}
