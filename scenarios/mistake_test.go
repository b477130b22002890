package scenarios_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/fixtures/source"
	"sinkproof/scenarios"
)

func mistakeFiles(tb testing.TB) map[string][]byte {
	tb.Helper()
	names, err := filepath.Glob("testdata/mistakes/*.hcl")
	require.NoError(tb, err)
	require.NotEmpty(tb, names)
	out := map[string][]byte{}
	for _, name := range names {
		out[filepath.Base(name)], err = os.ReadFile(name)
		require.NoError(tb, err)
	}
	return out
}

func TestMistakesAreFoundWhereTheyStand(t *testing.T) {
	for name, src := range mistakeFiles(t) {
		t.Run(name, func(t *testing.T) {
			require.NotEmpty(t, source.Expectations(src))
			sc, found := loadText(t, name, src)
			require.Empty(t, source.Unmet(src, found))
			require.Nil(t, sc, "a file with mistakes loads nothing")
		})
	}
}

// Every message that the code can give stands in a file under test, so that
// none is without a case.
func TestEveryMessageHasACase(t *testing.T) {
	var announced []string
	for _, src := range mistakeFiles(t) {
		for _, e := range source.Expectations(src) {
			announced = append(announced, e.Text)
		}
	}
	for _, e := range examples(t) {
		for _, x := range source.Expectations(e.text) {
			announced = append(announced, x.Text)
		}
	}
	found := messages(t)
	require.Greater(t, len(found), 50)
	var without []string
	for _, format := range found {
		pattern := regexp.MustCompile(`%[a-z%]`).ReplaceAllString(regexp.QuoteMeta(format), `.*`)
		is := regexp.MustCompile("(?s)^" + pattern + "$")
		hit := false
		for _, text := range announced {
			hit = hit || is.MatchString(text)
		}
		if !hit {
			without = append(without, format)
		}
	}
	require.Empty(t, without, "no file under test has these mistakes")
}

// messages lists the details of the diagnostics in the code of this package:
// the third argument of every call of Add on a list of diagnostics.
func messages(tb testing.TB) []string {
	tb.Helper()
	files, err := filepath.Glob("*.go")
	require.NoError(tb, err)
	var out []string
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		tree, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(tb, err)
		ast.Inspect(tree, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) < 3 {
				return true
			}
			target, ok := call.Fun.(*ast.SelectorExpr)
			if !ok || target.Sel.Name != "Add" {
				return true
			}
			literal, ok := call.Args[2].(*ast.BasicLit)
			require.True(tb, ok, "%s: a message must be a literal", name)
			text, err := strconv.Unquote(literal.Value)
			require.NoError(tb, err)
			out = append(out, text)
			return true
		})
	}
	return out
}

func TestEmptyAndForeignFilesAreRefused(t *testing.T) {
	for _, src := range []string{"", "rig \"bench-one\" {}\n", "scenario {\n}\n", "scenario \"a\" {", "\xff"} {
		sc, found := loadText(t, "x.hcl", []byte(src))
		require.Nil(t, sc, "%q", src)
		require.True(t, found.HasErrors(), "%q", src)
	}
}

func TestOpenNamesWhatIsMissing(t *testing.T) {
	_, err := scenarios.Open(filepath.Join(t.TempDir(), "none.hcl"))
	require.ErrorIs(t, err, os.ErrNotExist)
	_, err = scenarios.Shipped("charge-pat")
	require.ErrorIs(t, err, scenarios.ErrUnknownScenario)
	require.ErrorContains(t, err, "charge-path, no-cell, terminations-only")
	file, err := scenarios.Open("no-cell")
	require.NoError(t, err)
	require.Equal(t, "no-cell.hcl", file.Path)

	broken := filepath.Join(t.TempDir(), "broken.hcl")
	require.NoError(t, os.WriteFile(broken, []byte("scenario \"a\" {"), 0o600))
	file, err = scenarios.Open(broken)
	var mistakes source.Diagnostics
	require.ErrorAs(t, err, &mistakes)
	require.NotNil(t, file, "the file comes with its mistakes, so that they can be rendered")
}

// FuzzLoad demands that no text makes the loader panic, and that a file loads
// exactly when it has no mistake.
func FuzzLoad(f *testing.F) {
	for _, src := range mistakeFiles(f) {
		f.Add(src)
	}
	for _, e := range examples(f) {
		f.Add(e.text)
	}
	rig, prod := sketch(), shippedProduct(f, "hand-lamp")
	f.Fuzz(func(t *testing.T, src []byte) {
		file, found := source.Parse("fuzz.hcl", src)
		if found.HasErrors() {
			return
		}
		sc, found := scenarios.Load(file, rig, prod)
		require.Equal(t, found.HasErrors(), sc == nil)
		again, _ := scenarios.Load(file, rig, prod)
		require.Equal(t, sc, again, "loading twice gives the same")
	})
}
