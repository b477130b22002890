package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestLinksLeadSomewhere: every relative link of the documents names what
// is there.
func TestLinksLeadSomewhere(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)#]+)\)`)
	root := filepath.Join("..", "..")
	for _, doc := range []string{"README.md", "DEVELOPERS.md", "CHANGELOG.md", "fixtures/rigs/bench-one.md", "fixtures/rigs/bench-four.md", "scenarios/LANGUAGE.md"} {
		text, err := os.ReadFile(filepath.Join(root, doc))
		require.NoError(t, err)
		for _, m := range link.FindAllStringSubmatch(string(text), -1) {
			if strings.Contains(m[1], "://") {
				continue
			}
			_, err := os.Stat(filepath.Join(root, filepath.Dir(doc), m[1]))
			require.NoError(t, err, "%s links %s", doc, m[1])
		}
	}
}
