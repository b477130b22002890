package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// The shipped files that a run takes where none is named.
const (
	defaultRig      = "bench-one"
	defaultProduct  = "hand-lamp"
	defaultScenario = "charge-path"
)

// papers are the three files that a run is made from, loaded and proved
// against each other.
type papers struct {
	rig      *fixtures.Fixture
	product  *product.Product
	scenario *scenarios.Scenario
	files    []record.File
	// own tells that the wiring file is the user's own and not a shipped one.
	own bool
	// calibration corrects the rig's channels; nil for none.
	calibration *bench.Calibration
}

// load reads and proves the three files. Mistakes in them are rendered to errs
// with their lines, and the outcome is "wrong usage": nothing was judged and
// nothing moved.
func load(rigName, productName, scenarioName string, errs io.Writer) (*papers, error) {
	p := &papers{own: exists(rigName)}
	var err error
	if p.rig, err = loadRig(rigName, errs); err != nil {
		return nil, err
	}
	prod, productFile, err := product.Load(productName)
	if err != nil {
		return nil, mistakes(errs, productName, err, productFile)
	}
	p.product = prod
	file, err := scenarios.Open(scenarioName)
	if err != nil {
		return nil, mistakes(errs, scenarioName, err, file)
	}
	sc, diags := scenarios.Load(file, p.rig.Rig, prod)
	if err := diags.Err(); err != nil {
		return nil, mistakes(errs, scenarioName, err, file)
	}
	p.scenario = sc
	p.files = []record.File{
		{Role: record.RoleWiring, Name: p.rig.Rig.Name, Version: p.rig.Rig.Version, SHA256: p.rig.File.SHA256},
		{Role: record.RoleProduct, Name: prod.Name, Version: prod.Version, SHA256: productFile.SHA256},
		{Role: record.RoleScenario, Name: sc.Name, Version: sc.Version, SHA256: file.SHA256},
	}
	return p, nil
}

// loadRig loads and proves a wiring file, or a shipped rig by its name.
func loadRig(name string, errs io.Writer) (*fixtures.Fixture, error) {
	rig, err := fixtures.Load(name)
	if err == nil {
		return rig, nil
	}
	var file *source.File
	if rig != nil {
		file = rig.File
	}
	return nil, mistakes(errs, name, err, file)
}

// mistakes renders what is wrong in a file and returns the outcome.
func mistakes(errs io.Writer, name string, err error, files ...*source.File) error {
	var diags source.Diagnostics
	if !errors.As(err, &diags) {
		return usage("", "%s: %w", name, err)
	}
	files = slices.DeleteFunc(files, func(f *source.File) bool { return f == nil })
	if err := diags.Sorted().Render(errs, files, newScreen(errs).colour); err != nil {
		return fmt.Errorf("show the mistakes in %s: %w", name, err)
	}
	return usage("correct the file and run sinkproof check on it", "%s: mistakes in the file", name)
}

// on are the papers with the rig seen otherwise.
func (p *papers) on(rig *wiring.Rig) *papers {
	q, f := *p, *p.rig
	f.Rig, q.rig = rig, &f
	return &q
}

// calibrated is the bench that a calibration of this nest names: one has the
// instruments of one nest.
func (p *papers) calibrated(b record.Bench) record.Bench {
	if nest := p.rig.Rig.Nest; nest.Number > 0 {
		b.Name += "/" + nest.Name
	}
	return b
}

// oneNest is a rig as the nest sees it that was named. Where there is one, it need
// not be.
func oneNest(rig *fixtures.Fixture, named string) (*fixtures.Fixture, error) {
	views := rig.Rig.ByNest()
	names := make([]string, len(views))
	for i, v := range views {
		names[i] = v.Nest.Name
	}
	i := nestNamed(names, named)
	switch {
	case named == "" && len(views) == 1:
		i = 0
	case named == "":
		return nil, usage("--nest NAME, one of "+strings.Join(names, ", "), "the rig %s has %d nests", rig.Rig.Name, len(views))
	case i < 0:
		return nil, usage("its nests are "+strings.Join(names, ", "), "--nest %s: the rig %s has no such nest", named, rig.Rig.Name)
	}
	f := *rig
	f.Rig = views[i]
	return &f, nil
}

// nests are the papers of each nest of the rig, in the order of their numbers.
func (p *papers) nests() []*papers {
	var out []*papers
	for _, view := range p.rig.Rig.ByNest() {
		out = append(out, p.on(view))
	}
	return out
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
