package statistics

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// readers are the commands that read values, with what else they need.
func readers() map[string][]string {
	return map[string][]string{
		"capability":  {"study", "capability", "-", "--value", "v", "--lower", "0", "--upper", "10"},
		"gauge":       {"study", "gauge", "-", "--value", "v", "--part", "p", "--appraiser", "a"},
		"xbar-r":      {"study", "chart", "-", "--value", "v", "--kind", "xbar-r", "--subgroup", "p"},
		"xbar-s":      {"study", "chart", "-", "--value", "v", "--kind", "xbar-s", "--subgroup", "p"},
		"individuals": {"study", "chart", "-", "--value", "v", "--kind", "individuals"},
		"ewma":        {"study", "chart", "-", "--value", "v", "--kind", "ewma"},
		"cusum":       {"study", "chart", "-", "--value", "v", "--kind", "cusum"},
		"tolerance":   {"study", "tolerance", "-", "--value", "v"},
		"compare":     {"study", "compare", "-", "--value", "v", "--between", "a"},
		"moments":     {"study", "moments", "-", "--value", "v"},
		"bias":        {"study", "bias", "-", "--value", "v", "--reference", "5"},
		"linearity":   {"study", "linearity", "-", "--value", "v", "--reference", "p"},
		"stability":   {"study", "stability", "-", "--value", "v", "--time", "p"},
		"variables":   {"lot", "variables", "-", "--value", "v", "--sample-size", "8", "--k", "1", "--upper", "9"},
	}
}

// refused demands a Trouble that says all of the words, and nothing printed.
func refused(t *testing.T, stdin string, args []string, words ...string) *Trouble {
	t.Helper()
	s := drive(t, stdin, args...)
	var trouble *Trouble
	require.ErrorAs(t, s.err, &trouble, "sinkproof %s printed %s", strings.Join(args, " "), s.out)
	require.Empty(t, s.out)
	for _, w := range words {
		require.ErrorContains(t, s.err, w, "sinkproof %s", strings.Join(args, " "))
	}
	return trouble
}

// TestBadFiles: every command refuses every bad file, and says why.
func TestBadFiles(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "empty"},
		{"header alone", "p,a,v\n", "no value"},
		{"one value", "p,a,v\n1,x,5\n", ""},
		{"missing column", "p,a,w\n1,x,5\n2,y,6\n", `no column "v"`},
		{"text among numbers", "p,a,v\n1,x,5\n2,y,n.a.\n", `line 3, column "v"`},
		{"not a number", "p,a,v\n1,x,NaN\n2,y,6\n", `line 2, column "v"`},
		{"infinite", "p,a,v\n1,x,5\n2,y,-Inf\n", `line 3, column "v"`},
		{"no text", "p,a,v\n\x00\x01", "not text"},
		{"decimal commas", "p;a;v\n1;x;5,5\n2;y;6,5\n", `"5,5" has a comma where a decimal point is wanted`},
		{"missing cell", "p,a,v\n1,x,5\n2,y,\n", "line 3"},
		{"missing field", "p,a,v\n1,x,5\n2,y\n", "line 3"},
		{"a million columns", strings.Repeat("v,", 1_000_000), "columns"},
	} {
		for name, args := range readers() {
			t.Run(c.name+"/"+name, func(t *testing.T) { refused(t, c.text, args, c.want) })
		}
	}
}

// TestZeroSpread: values that are all alike have a mean and no index.
func TestZeroSpread(t *testing.T) {
	text := "p,a,v\n1,x,5\n1,y,5\n2,x,5\n2,y,5\n1,x,5\n1,y,5\n2,x,5\n2,y,5\n"
	for name, args := range readers() {
		if name == "moments" {
			continue
		}
		t.Run(name, func(t *testing.T) { refused(t, text, args, "zero spread") })
	}
	got := answerOf(t, text, readers()["moments"]...)
	require.Equal(t, answer{"n": 8.0, "mean": 5.0, "sd": 0.0, "min": 5.0, "max": 5.0}, got)
}

// TestUndefinedIsAbsent: two values have no skewness, three no kurtosis.
func TestUndefinedIsAbsent(t *testing.T) {
	two := answerOf(t, "v\n1\n2\n", "study", "moments", "-")
	require.NotContains(t, two, "skewness")
	require.NotContains(t, two, "kurtosis")
	require.Contains(t, two, "sd")
	seven := answerOf(t, "v\n1\n2\n3\n4\n5\n6\n8\n", "study", "capability", "-", "--lower", "0")
	for _, name := range []string{"cp", "pp", "cpm", "anderson_darling", "anderson_darling_p", "cp_low"} {
		require.NotContains(t, seven, name)
	}
	for _, name := range []string{"cpk", "ppk", "ppk_low", "ppk_high", "shapiro_wilk"} {
		require.Contains(t, seven, name)
	}
}

// TestSpreadOnlyBetweenSubgroups: without spread inside subgroups Cp is not
// defined, and Pp is.
func TestSpreadOnlyBetweenSubgroups(t *testing.T) {
	got := answerOf(t, "s,v\na,1\na,1\nb,2\nb,2\nc,3\nc,3\n", "study", "capability", "-", "--value", "v", "--subgroup", "s", "--lower", "0", "--upper", "5")
	require.NotContains(t, got, "cp")
	require.NotContains(t, got, "cpk")
	require.Contains(t, got, "ppk")
	require.Equal(t, 0.0, got["sd_within"])
}

// TestSameAnswer: however a file is written, the numbers are the same.
func TestSameAnswer(t *testing.T) {
	want := answerOf(t, "v\n1.5\n2.5\n4\n", "study", "moments", "-")
	for name, c := range map[string]struct {
		text string
		args []string
	}{
		"Windows line ends": {"v\r\n1.5\r\n2.5\r\n4\r\n", nil},
		"byte-order mark":   {"\uFEFFv\n1.5\n2.5\n4\n", nil},
		"decimal commas":    {"v\n1,5\n2,5\n4\n", []string{"--decimal-comma"}},
		"semicolons":        {"x;v\n;1,5\n;2,5\n;4\n", []string{"--decimal-comma", "--value", "v"}},
		"no header":         {"1.5\n2.5\n4\n", []string{"--no-header"}},
		"empty cells":       {"v,w\n1.5,\n,x\n2.5,\n4,\n", []string{"--skip-empty", "--value", "v"}},
	} {
		require.Equal(t, want, answerOf(t, c.text, append([]string{"study", "moments", "-"}, c.args...)...), name)
	}
	s := drive(t, "v,w\n1.5,\n,x\n2.5,\n4,\n", "study", "moments", "-", "--skip-empty", "--value", "v")
	require.Contains(t, s.out, "1 row without a value", "what was left out is told")
}

// TestUnbalancedGauge names the cell that is short.
func TestUnbalancedGauge(t *testing.T) {
	refused(t, "p,a,v\n1,x,5\n1,x,6\n2,x,7\n", readers()["gauge"], `part "2" 1 times`)
	refused(t, "p,a,v\n1,x,5\n2,x,6\n", readers()["gauge"], "1 trial")
	refused(t, "p,a,v\n1,x,5\n1,x,6\n", readers()["gauge"], "1 parts")
	refused(t, "p,a,v\n1,x,5\n1,x,6\n2,y,5\n2,y,6\n", readers()["gauge"], "0 times")
}

// TestUsage: what the flags do not allow.
func TestUsage(t *testing.T) {
	values := "a,v\nx,1\ny,2\nx,3\ny,4.5\nz,2\nz,2.5\n"
	for _, c := range []struct{ line, want string }{
		{"study moments", "no file"},
		{"study capability a.csv b.csv --lower 1", "one file"},
		{"study capability - --value v", "no limit"},
		{"study capability - --value v --lower 2 --upper 1", "not below"},
		{"study capability - --value v --lower 2 --within magic", "no method"},
		{"study capability - --value v --lower 2 --within pooled", "without subgroups"},
		{"study capability - --value v --lower 2 --subgroup a --within range --by b", `no column "b"`},
		{"study capability nowhere.csv --lower 2", "nowhere.csv"},
		{"study capability - --ledger x.db --check rd --lower 1", "both a file"},
		{"study moments --ledger x.db", "without --check"},
		{"study moments - --value v --by w", `no column "w"`},
		{"study gauge - --value v", "names the part"},
		{"study gauge - --value v --part a", "who measured"},
		{"study gauge - --value v --part a --appraiser a --method magic", "--method"},
		{"study gauge - --value v --part a --appraiser a --tolerance 0", "no width"},
		{"study gauge - --value v --part a --appraiser a --pool 2", "--pool"},
		{"study chart - --value v", "no kind of chart"},
		{"study chart - --value v --kind magic", "no kind of chart"},
		{"study chart - --value v --kind xbar-r", "without subgroups"},
		{"study chart - --value v --kind individuals --subgroup a", "single values"},
		{"study chart - --value v --kind individuals --rules magic", "no rule"},
		{"study chart - --value v --kind individuals --size a", "--size"},
		{"study chart - --value v --kind p", "numbers tested"},
		{"study chart - --value v --kind u --subgroup a", "numbers tested"},
		{"study chart - --value v --kind p --size 10", "is 4.5"},
		{"study chart - --value v --kind np --size 1", "2 of 1"},
		{"study chart - --value v --kind c --sigma 1", "--sigma"},
		{"study chart - --value v --kind ewma --rules nelson", "--rules"},
		{"study chart - --value v --kind ewma --weight 2", "--weight"},
		{"study chart - --value v --kind ewma --slack 2", "--kind ewma"},
		{"study chart - --value v --kind cusum --decision 0", "--decision"},
		{"study chart - --value v --kind individuals --sigma 0", "--sigma"},
		{"study chart - --value v --kind individuals --phase1 1", "--phase1"},
		{"study chart - --value v --kind individuals --phase1 7", "6 points"},
		{"study tolerance", "--n 0"},
		{"study tolerance --n 1", "--n 1"},
		{"study tolerance --n 10 --sides 3", "--sides"},
		{"study tolerance --n 10 --coverage 95", "--coverage"},
		{"study tolerance - --value v --n 10", "both"},
		{"study proportion", "how many"},
		{"study proportion --bad 1 --n 0", "--n 0"},
		{"study proportion --bad 2 --n 1", "2 of"},
		{"study proportion --bad -1 --n 1", "-1 of"},
		{"study proportion --bad 0 --n 10 --at-most 1", "--at-most"},
		{"study proportion x --bad 0 --n 10", "flags only"},
		{"study compare -", "two files"},
		{"study compare - -", "standard input twice"},
		{"study compare - --value v --between a", "3 groups"},
		{"study compare - --value v --between a --groups x,w", `no "w"`},
		{"study compare - --value v --between a --groups x", "two different"},
		{"study compare - --groups x,y", "without --between"},
		{"study compare - --value v --between a --groups x,y --margin 0", "no margin"},
		{"study compare --ledger x.db --check rd", "which two groups"},
		{"lot plan", "size of the lot"},
		{"lot plan --size 1 --aql 1", "--size 1"},
		{"lot plan --size 100", "acceptance quality limit"},
		{"lot plan --size 100 --aql 3", "no limit of the standard"},
		{"lot plan --size 100 --aql 1 --level IV", "--level"},
		{"lot plan --size 100 --aql 1 --severity discontinued", "--severity"},
		{"lot plan --producer-quality 0.1", "missing"},
		{"lot plan --producer-quality 0.1 --producer-risk 0.05 --consumer-quality 0.05 --consumer-risk 0.1", "not below"},
		{"lot plan --producer-quality 1 --producer-risk 0.05 --consumer-quality 0.05 --consumer-risk 0.1", "--producer-quality 1"},
		{"lot plan --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.05 --consumer-risk 0.1 --distribution magic", "--distribution"},
		{"lot plan --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.05 --consumer-risk 0.1 --distribution hypergeometric", "size of the lot"},
		{"lot plan --producer-quality 0.01 --producer-risk 0.05 --consumer-quality 0.05 --consumer-risk 0.1 --aql 1", "both"},
		{"study moments - --value v --page values.csv", "no name of a page"},
		{"study moments - --value v --pdf values.html", "no name of a PDF"},
		{"study nothing", `study has no "nothing"`},
		{"lot nothing", `lot has no "nothing"`},
		{"study moments --ledger x.db --check rd --value vbus", "--value vbus"},
		{"study moments - --check rd", "without --ledger"},
		{"lot curve", "--sample-size"},
		{"lot curve --sample-size 5", "--accept"},
		{"lot curve --sample-size 5 --accept 5", "--accept 5"},
		{"lot curve --sample-size 5 --accept 1 --size 4", "smaller than the sample"},
		{"lot curve --sample-size 5 --accept 1 --at 0.1,x", `"x" is no fraction`},
		{"lot curve --sample-size 5 --accept 1 --at 1.1", "no fraction"},
		{"lot curve --sample-size 5 --accept 1 --distribution hypergeometric", "size of the lot"},
	} {
		t.Run(c.line, func(t *testing.T) { refused(t, values, strings.Fields(c.line), c.want) })
	}
}

// TestFlagsTakeNumbers: what is no number is told with the flag.
func TestFlagsTakeNumbers(t *testing.T) {
	for _, line := range []string{
		"study capability - --lower NaN", "study capability - --lower 1,5", "study capability - --upper Inf",
		"study capability - --confidence 95", "study capability - --confidence 1", "study proportion --bad 1.5 --n 3",
	} {
		s := drive(t, "v\n1\n", strings.Fields(line)...)
		require.ErrorContains(t, s.err, "invalid argument", line)
		require.Empty(t, s.out)
	}
}

// TestJudgements: each can be asked for, and go either way.
func TestJudgements(t *testing.T) {
	values := "a,v\nx,5.0\nx,5.1\ny,4.9\ny,5.0\nx,5.05\nx,4.95\ny,5.1\ny,4.92\n"
	for _, c := range []struct {
		yes, no string
	}{
		{"study capability - --value v --lower 0 --upper 10 --need-ppk 1.33", "study capability - --value v --lower 4.8 --upper 5.2 --need-ppk 1.33"},
		{"study capability - --value v --lower 0 --upper 10 --need-cpk 1.33", "study capability - --value v --lower 4.8 --upper 5.2 --need-cpk 1.33"},
		{"study chart - --value v --kind individuals --judge", "study chart - --value v --kind individuals --judge --target 4 --sigma 0.1"},
		{"study compare - --value v --between a --margin 1", "study compare - --value v --between a --margin 0.001"},
		{"study proportion --bad 0 --n 300 --at-most 0.01", "study proportion --bad 1 --n 300 --at-most 0.01"},
	} {
		yes, no := drive(t, values, strings.Fields(c.yes)...), drive(t, values, strings.Fields(c.no)...)
		require.NoError(t, yes.err, c.yes)
		require.Contains(t, yes.out, "YES: ")
		require.ErrorIs(t, no.err, ErrNegative, c.no)
		require.Contains(t, no.out, "NO: ")
		require.Equal(t, true, answerOf(t, values, strings.Fields(c.yes)...)["accepted"])
		require.Equal(t, false, answerOf(t, values, strings.Fields(c.no)...)["accepted"])
	}
	grr := "p,a,v\n1,x,1\n1,x,1.1\n2,x,9\n2,x,9.1\n1,y,1\n1,y,1.2\n2,y,9\n2,y,9.3\n"
	gauge := []string{"study", "gauge", "-", "--value", "v", "--part", "p", "--appraiser", "a", "--accept", "10"}
	require.NoError(t, drive(t, grr, gauge...).err)
	require.ErrorIs(t, drive(t, grr, append(gauge, "--tolerance", "1")...).err, ErrNegative)
}

// TestBy: one answer for each text, in the order of the file.
func TestBy(t *testing.T) {
	text := "lot,s,v\nB,1,5\nA,1,6\nB,1,5.5\nA,1,6.5\nA,2,6.1\nB,2,5.2\nA,2,6.2\nB,2,5.9\n"
	for name, args := range map[string][]string{
		"moments":    {"study", "moments", "-", "--value", "v", "--by", "lot"},
		"capability": {"study", "capability", "-", "--value", "v", "--by", "lot", "--lower", "0", "--subgroup", "s"},
		"chart":      {"study", "chart", "-", "--value", "v", "--by", "lot", "--kind", "xbar-r", "--subgroup", "s"},
		"tolerance":  {"study", "tolerance", "-", "--value", "v", "--by", "lot"},
	} {
		got := answerOf(t, text, args...)
		require.Equal(t, "lot", got["by"], name)
		groups := got.list(t, "groups")
		require.Len(t, groups, 2)
		require.Equal(t, "B", groups[0]["group"])
		require.Equal(t, "A", groups[1]["group"])
	}
	s := drive(t, text, "study", "capability", "-", "--value", "v", "--by", "lot", "--lower", "0")
	require.Contains(t, s.out, "All groups")
	require.NotContains(t, s.out, "NaN")
	alone := answerOf(t, "s,v\n1,6\n1,6.5\n2,6.1\n2,6.2\n", "study", "capability", "-", "--value", "v", "--lower", "0", "--subgroup", "s")
	both := answerOf(t, text, "study", "capability", "-", "--value", "v", "--by", "lot", "--lower", "0", "--subgroup", "s").list(t, "groups")[1]
	delete(both, "group")
	require.Equal(t, alone, both, "a group is studied as if it were alone")
	refused(t, text+"C,1,7\n", []string{"study", "moments", "-", "--value", "v", "--by", "lot"}, "C: 1 value")
}

// TestCompareByAdjusts: three characteristics of two files; the p-values of all
// are adjusted together, Holm's by hand.
func TestCompareByAdjusts(t *testing.T) {
	dir := t.TempDir()
	var paths []string
	for i, shift := range []float64{0, 1} {
		text := "check,v\n"
		for j := range 8 {
			text += fmt.Sprintf("rd,%v\nvbus,%v\nrise,%v\n", float64(j)+3*shift, float64(j)+shift, float64(j*j))
		}
		paths = append(paths, filepath.Join(dir, fmt.Sprintf("f%d.csv", i)))
		require.NoError(t, os.WriteFile(paths[i], []byte(text), 0o600))
	}
	args := []string{"study", "compare", paths[0], paths[1], "--value", "v", "--by", "check", "--margin", "100"}
	got := answerOf(t, "", args...).list(t, "groups")
	require.Len(t, got, 3)
	rd, vbus, rise := got[0], got[1], got[2]
	require.InDelta(t, 3*rd.number(t, "welch_p"), rd.number(t, "welch_p_holm"), 1e-12)
	require.InDelta(t, 2*vbus.number(t, "welch_p"), vbus.number(t, "welch_p_holm"), 1e-12)
	require.InDelta(t, 1, rise.number(t, "welch_p_holm"), 1e-12)
	require.InDelta(t, 1.5*vbus.number(t, "welch_p"), vbus.number(t, "welch_p_bh"), 1e-12)
	require.Equal(t, true, rd["equivalent"])
	require.Contains(t, drive(t, "", args...).out, "All groups")
	require.NoError(t, os.WriteFile(paths[1], []byte("check,v\nrd,1\nrd,2\n"), 0o600))
	refused(t, "", args, `has the group "vbus"`)
}

// TestCountsOfSingleUnits: rows of 0 and 1 add up to a chart of days.
func TestCountsOfSingleUnits(t *testing.T) {
	text := "day,bad\n"
	for day := range 5 {
		for unit := range 20 {
			bad := 0
			if unit <= day {
				bad = 1
			}
			text += fmt.Sprintf("d%d,%d\n", day+1, bad)
		}
	}
	got := answerOf(t, text, "study", "chart", "-", "--kind", "p", "--value", "bad", "--subgroup", "day")
	want := answerOf(t, "bad\n1\n2\n3\n4\n5\n", "study", "chart", "-", "--kind", "p", "--value", "bad", "--size", "20")
	require.Equal(t, want["centre"], got["centre"])
	require.InDelta(t, 0.15, got.number(t, "centre"), 1e-15)
	for i, p := range got.list(t, "points") {
		require.Equal(t, fmt.Sprintf("d%d", i+1), p["label"])
		require.InDelta(t, float64(i+1)/20, p.number(t, "value"), 1e-15)
	}
}

// TestUnequalSubgroups: limits differ, so the chart has none of its own.
func TestUnequalSubgroups(t *testing.T) {
	text := "s,v\na,1\na,2\nb,1.5\nb,2\nb,2.5\nc,1\nc,2.2\n"
	for _, kind := range []string{"xbar-r", "xbar-s"} {
		got := answerOf(t, text, "study", "chart", "-", "--kind", kind, "--value", "v", "--subgroup", "s")
		for _, name := range []string{"lower", "upper", "spread_centre", "spread_lower", "spread_upper"} {
			require.NotContains(t, got, name)
		}
		require.Contains(t, got, "centre")
		for _, p := range got.list(t, "points") {
			require.Contains(t, p, "lower")
			require.Contains(t, p, "violations")
		}
	}
	refused(t, text, []string{"study", "chart", "-", "--kind", "ewma", "--value", "v", "--subgroup", "s"}, "different spread")
}
