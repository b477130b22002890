package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// house lists the rooms from the top down. Code in a room imports rooms that
// stand below its own line, and sub-rooms of its own.
var house = []string{
	"cmd/sinkproof",
	"scenarios",
	"reports/page",
	"reports/ledger",
	"bench/twin",
	"fixtures",
	"bench",
	"bench/linux",
	"bench/chip",
	"bench/circuit",
	"bench/wiring",
	"bench/typec",
	"reports/record",
	"reports/quality",
	"bench/quantity",
}

// forbidden are imports that point down the list and are wrong all the same.
var forbidden = map[string][]string{
	"scenarios": {"bench/twin", "reports/page", "reports/ledger"}, // only the command joins these
	"bench":     {"bench/circuit"},                                // a rig is not a simulation
}

// room returns the line of the house that a package stands on.
func room(pkg string) (int, string) {
	pkg = strings.TrimPrefix(pkg, "sinkproof/")
	best, name := -1, ""
	for i, r := range house {
		if (pkg == r || strings.HasPrefix(pkg, r+"/")) && len(r) > len(name) {
			best, name = i, r
		}
	}
	return best, name
}

func TestImportsPointDownTheHouse(t *testing.T) {
	for _, p := range listPackages(t) {
		from, fromRoom := room(p.ImportPath)
		require.GreaterOrEqual(t, from, 0, "%s stands in no room of the house", p.ImportPath)
		for _, imp := range p.Imports {
			if !strings.HasPrefix(imp, "sinkproof/") {
				continue
			}
			to, toRoom := room(imp)
			require.GreaterOrEqual(t, to, from, "%s imports %s, which stands above it", p.ImportPath, imp)
			require.NotContains(t, forbidden[fromRoom], toRoom, "%s imports %s", p.ImportPath, imp)
		}
	}
}

// TestOnlyTheCommandChoosesTheTwin: the twin is below the drivers, so nothing
// that could tell it from hardware may know it.
func TestOnlyTheCommandChoosesTheTwin(t *testing.T) {
	for _, p := range listPackages(t) {
		if strings.HasPrefix(p.ImportPath, "sinkproof/bench/twin") || strings.HasPrefix(p.ImportPath, "sinkproof/cmd/") {
			continue
		}
		for _, imp := range p.Imports {
			require.False(t, strings.HasPrefix(imp, "sinkproof/bench/twin"), "%s imports the twin", p.ImportPath)
		}
	}
}

// TestOnlyReportsAndTheCommandWriteFiles: a value travels down as a request
// and up as a reading; files are for fixtures to read and for reports and the
// command to write.
func TestOnlyReportsAndTheCommandWriteFiles(t *testing.T) {
	allowed := []string{"sinkproof/reports/", "sinkproof/cmd/", "sinkproof/fixtures", "sinkproof/scenarios", "sinkproof/bench/circuit/spice"}
	for _, p := range listPackages(t) {
		free := false
		for _, a := range allowed {
			free = free || strings.HasPrefix(p.ImportPath, a)
		}
		if !free {
			require.NotContains(t, p.Imports, "os", "%s imports os", p.ImportPath)
		}
	}
}

type listed struct {
	ImportPath string
	Imports    []string
}

// listPackages asks the go command for every package of the module with the
// imports of its non-test files.
func listPackages(t *testing.T) []listed {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "sinkproof/...").Output()
	require.NoError(t, err, "go list")
	var all []listed
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := dec.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		all = append(all, p)
	}
	require.Greater(t, len(all), 10)
	return all
}
