package scenarios

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"sinkproof/fixtures/source"
)

//go:embed shipped/*.hcl
var shipped embed.FS

// ErrUnknownScenario is the cause when no shipped scenario has the name.
var ErrUnknownScenario = errors.New("no such scenario is shipped")

// Names lists the shipped scenarios.
func Names() []string {
	entries, err := fs.ReadDir(shipped, "shipped")
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), ".hcl"))
	}
	slices.Sort(out)
	return out
}

// Shipped parses a scenario that comes with the program. It returns
// ErrUnknownScenario for another name.
func Shipped(name string) (*source.File, error) {
	src, err := shipped.ReadFile("shipped/" + name + ".hcl")
	if err != nil {
		return nil, fmt.Errorf("open scenario %q (shipped are %s): %w", name, strings.Join(Names(), ", "), ErrUnknownScenario)
	}
	file, found := source.Parse(name+".hcl", src)
	if err := found.Err(); err != nil {
		return file, fmt.Errorf("open shipped scenario %q: %w", name, err)
	}
	return file, nil
}

// Open parses a scenario file from disk, or the shipped scenario when path is
// the name of one and no such file exists; any other path that does not exist
// is ErrUnknownScenario and fs.ErrNotExist. Mistakes in its syntax come back as
// source.Diagnostics, to be found with errors.As, with the file.
func Open(path string) (*source.File, error) {
	shelf := source.Shelf{Kind: "scenario", Names: Names(), Unknown: ErrUnknownScenario}
	src, isShipped, err := shelf.Read(path)
	if isShipped {
		return Shipped(path)
	}
	if err != nil {
		return nil, fmt.Errorf("open %w", err)
	}
	file, found := source.Parse(path, src)
	if err := found.Err(); err != nil {
		return file, fmt.Errorf("open scenario file: %w", err)
	}
	return file, nil
}
