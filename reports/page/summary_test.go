package page

import (
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/record"
)

func sampleSummary() Summary {
	pass := richRun()
	pass.Serial, pass.Verdict, pass.Bin, pass.Checks, pass.Suspects = "LMP-000001", record.Pass, record.BinPass, pass.Checks[:2], nil
	none := richRun()
	none.Serial, none.Verdict, none.Bin, none.Reason = "LMP-000003", record.None, record.BinRetest, "the converter went away"
	s := Summary{
		Title: "Lot 2026-19", Twin: true, Facts: []Row{{"Product", "lamp"}},
		Tally: []TallyRow{{"1", "passed", Good}, {"1", "failed", Bad}},
		Units: []SummaryRow{
			NewSummaryRow(pass, "good", "units/LMP-000001/report.html", "units/LMP-000001/report.pdf"),
			NewSummaryRow(richRun(), "no-rd", "units/a b#?%/report.html", ""),
			NewSummaryRow(none, "good", "", ""),
		},
	}
	s.Rank()
	return s
}

func TestSummaryRowTellsCausesAndCountsConsequences(t *testing.T) {
	row := sampleSummary().Units[1]
	require.Equal(t, []string{"Termination at CC2"}, row.Failed)
	require.Equal(t, 2, row.Followed)
	require.Equal(t, []string{"the converter went away"}, sampleSummary().Units[2].Failed)
	require.Zero(t, sampleSummary().Units[0].Followed)
}

func TestRankCountsUnitsOnce(t *testing.T) {
	s := Summary{Units: []SummaryRow{
		{Tone: Bad, Failed: []string{"a", "b", "b"}}, {Tone: Bad, Failed: []string{"b"}}, {Tone: Bad, Failed: []string{"c", "b"}},
		{Tone: Open, Failed: []string{"the bench went away"}}, {Tone: Good},
	}}
	s.Rank()
	s.Rank()
	require.Equal(t, []ParetoRow{
		{"b", 3, 100, "3 of 3 failed"}, {"a", 1, 33, "1 of 3 failed"}, {"c", 1, 33, "1 of 3 failed"},
	}, s.Pareto)
}

func TestSummaryPage(t *testing.T) {
	page, err := sampleSummary().HTML()
	require.NoError(t, err)
	again, err := sampleSummary().HTML()
	require.NoError(t, err)
	require.Equal(t, string(page), string(again))
	elements, text := parsed(t, page)
	for _, want := range []string{
		"1 of 3 units passed (33\u00a0%), 1 failed, 1 are without a verdict. The most frequent fail: Termination at CC2.",
		"Simulated bench.", "rework 1, retest 1, pass 1", "LMP-000001", "Termination at CC2", "1 of 1 failed", "no-rd",
		"and 2 as a consequence", "the converter went away",
	} {
		require.Contains(t, text, want)
	}
	var links []string
	for _, e := range elements {
		require.NotContains(t, []string{"script", "link", "img"}, e.name)
		if href, found := e.attrs["href"]; found {
			links = append(links, href)
		}
		require.Empty(t, e.attrs["src"])
		if e.name == "th" {
			require.Contains(t, []string{"col", "row"}, e.attrs["scope"])
		}
	}
	require.Equal(t, []string{"units/LMP-000001/report.html", "units/LMP-000001/report.pdf", "units/a%20b%23%3F%25/report.html"}, links)
	require.NotContains(t, string(page), "http:")
}

func TestSummaryOfHardwareAndOfNothing(t *testing.T) {
	s := sampleSummary()
	s.Twin = false
	page, err := s.HTML()
	require.NoError(t, err)
	require.NotContains(t, string(page), "Simulated")
	require.NotContains(t, string(page), "no-rd", "hardware has no known truth")
	page, err = Summary{Title: "nothing"}.HTML()
	require.NoError(t, err)
	require.Contains(t, string(page), "No unit was tested.")
}

func TestSummaryDoesNotChangeWhatItWasGiven(t *testing.T) {
	s := sampleSummary()
	s.Units[0].Serial = "a\u200bb"
	_, err := s.HTML()
	require.NoError(t, err)
	require.Equal(t, "a\u200bb", s.Units[0].Serial)
}

// Any path is a relative link that leads back to the same path.
func TestLinksLeadBack(t *testing.T) {
	base, err := url.Parse("file:///out/index.html")
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		var parts []string
		for range rapid.IntRange(1, 3).Draw(t, "parts") {
			parts = append(parts, "x"+rapid.StringMatching(`[ -.0-~]{0,12}`).Draw(t, "part"))
		}
		path := strings.Join(parts, "/")
		ref, err := url.Parse(link(path))
		require.NoError(t, err)
		require.False(t, ref.IsAbs(), "%q has no scheme", link(path))
		require.Equal(t, "/out/"+path, base.ResolveReference(ref).Path)
	})
	require.Empty(t, link(""))
	require.Equal(t, "./javascript:alert%281%29", strings.NewReplacer("(", "%28", ")", "%29").Replace(link("javascript:alert(1)")))
}

func TestDangerousNamesStayLinksToFiles(t *testing.T) {
	s := Summary{Title: "t", Units: []SummaryRow{{Serial: `<img src=x onerror=y>`, Verdict: "PASS", Tone: Good, HTML: `javascript:alert(1)`, PDF: `a"b'.pdf`}}}
	page, err := s.HTML()
	require.NoError(t, err)
	elements, text := parsed(t, page)
	require.Contains(t, text, `<img src=x onerror=y>`)
	var links []string
	for _, e := range elements {
		require.NotEqual(t, "img", e.name)
		if e.name == "a" {
			links = append(links, e.attrs["href"])
		}
	}
	require.Len(t, links, 2)
	require.True(t, strings.HasPrefix(links[0], "./javascript:"))
	require.Equal(t, "a%22b%27.pdf", links[1])
}
