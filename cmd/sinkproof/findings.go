package main

import (
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"sinkproof/bench/twin"
	"sinkproof/fixtures/product"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
	"sinkproof/scenarios/findings"
	"sinkproof/scenarios/population"
)

// The fault dictionaries of the shipped rigs with the shipped scenario and product,
// so that a demonstration or a first run has findings at once. "go generate" makes
// them again; a test compares them with what would be made now.
//
//go:generate go run . dictionary --again --rig bench-one --out dictionary/bench-one.faults
//go:generate go run . dictionary --again --rig bench-four --out dictionary/bench-four.faults
var (
	//go:embed dictionary/bench-one.faults
	dictionaryOfOne []byte
	//go:embed dictionary/bench-four.faults
	dictionaryOfFour []byte
)

// What a dictionary is made of.
const (
	// dictionaryUnits is how many units of each class there are. With 200 the
	// classes of the shipped files are told apart as with 400.
	dictionaryUnits = 200
	dictionarySeed  = 4
	// dictionaryPerRig is how many units meet one draw of the rig: one of each
	// class, so that there are as many rigs as units of a class.
	dictionaryPerRig = 21
)

// classesOf lists what a unit of a product can be.
func classesOf(p *product.Product) []findings.Class {
	list := []findings.Class{{Name: findings.Good, Title: "no fault: the unit measures like a good one", Rework: findings.Rework(findings.Good)}}
	for _, d := range twin.Faults() {
		if d.Applies(p) {
			list = append(list, findings.Class{Name: d.Name, Title: d.Title, Rework: findings.Rework(d.Name)})
		}
	}
	return list
}

// dictionaryKey names a dictionary by what it is made from: the three files,
// the program, the classes, how many units, and the seed.
func dictionaryKey(p *papers, units int) string {
	h := sha256.New()
	fmt.Fprintf(h, "%s\n%d units of each class, %d at a rig, seed %d\n", version, units, dictionaryPerRig, dictionarySeed)
	for _, f := range p.files {
		fmt.Fprintf(h, "%s %s\n", f.Role, f.SHA256)
	}
	for _, c := range classesOf(p.product) {
		fmt.Fprintf(h, "%q %q %q\n", c.Name, c.Title, c.Rework)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// buildDictionary simulates units of every class and makes the dictionary of
// them, as a file.
func buildDictionary(ctx context.Context, p *papers, units, workers int, progress func(int)) ([]byte, error) {
	defer makeRoom()()
	plan := population.Plan{Seed: dictionarySeed, PerRig: dictionaryPerRig}
	classes := classesOf(p.product)
	for _, c := range classes {
		var faults []string
		if c.Name != findings.Good {
			faults = []string{c.Name}
		}
		plan.Classes = append(plan.Classes, population.ClassOf(units, faults...))
	}
	b, err := findings.NewBuilder(classes)
	if err != nil {
		return nil, err
	}
	b.Call(findings.TitlesOf(p.scenario))
	var adding error
	_, err = population.Run(ctx, plan, population.Options{Workers: workers, Progress: progress}, lines(p),
		func(_ population.Unit, o population.Outcome) findings.Signature { return findings.SignatureOf(o.Run) },
		func(u population.Unit, s findings.Signature) { adding = errors.Join(adding, b.Add(u.Class, s)) })
	if err := errors.Join(err, adding); err != nil {
		return nil, fmt.Errorf("simulate units for the fault dictionary: %w", err)
	}
	d, err := b.Dictionary()
	if err != nil {
		return nil, err
	}
	d.Key = dictionaryKey(p, units)
	return d.Encode()
}

// dictionaryUnitsOf is how many units a plan for the papers has.
func dictionaryUnitsOf(p *papers, units int) int { return units * len(classesOf(p.product)) }

// errNoDictionary is the cause when there is no dictionary for the papers.
var errNoDictionary = errors.New("no fault dictionary for these files")

// openDictionary returns the dictionary of the papers where there is one: the
// shipped one, or one that was kept. It wraps errNoDictionary.
func openDictionary(p *papers) (*findings.Dictionary, error) {
	key := dictionaryKey(p, dictionaryUnits)
	for _, data := range [][]byte{dictionaryOfOne, dictionaryOfFour} {
		if d, err := findings.Decode(data); err == nil && d.Key == key {
			return d, nil
		}
	}
	path, err := dictionaryPath(key)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errNoDictionary, err)
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, errNoDictionary
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errNoDictionary, err)
	}
	d, err := findings.Decode(data)
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", errNoDictionary, path, err)
	}
	if d.Key != key {
		return nil, fmt.Errorf("%w: %s is that of others", errNoDictionary, path)
	}
	return d, nil
}

// dictionaryPath is where a dictionary is kept between runs.
func dictionaryPath(key string) (string, error) {
	dir, err := os.UserCacheDir()
	if err != nil {
		return "", fmt.Errorf("find a folder to keep it in: %w", err)
	}
	return filepath.Join(dir, "sinkproof", key[:32]+".faults"), nil
}

// keepDictionary keeps a dictionary for later runs and returns where. One that
// cannot be kept still serves this run.
func keepDictionary(key string, data []byte) (string, error) {
	path, err := dictionaryPath(key)
	if err != nil {
		return "", err
	}
	if err := makeFolder(filepath.Dir(path)); err != nil {
		return "", err
	}
	if err := record.WriteFile(path, data, 0o644); err != nil {
		return "", fmt.Errorf("keep the fault dictionary %s: %w", path, err)
	}
	return path, nil
}

// The values of --findings.
const (
	findingsAuto  = "auto"
	findingsBuild = "build"
	findingsOff   = "off"
)

// diagnostician puts findings into runs.
type diagnostician struct {
	dictionary *findings.Dictionary
	// why says why there is none.
	why string
}

// newDiagnostician finds the dictionary of the papers, or builds it where that
// is wanted, and keeps it.
func newDiagnostician(ctx context.Context, p *papers, mode string, s *screen) (diagnostician, error) {
	switch mode {
	case findingsOff:
		return diagnostician{why: "findings were not asked for"}, nil
	case findingsAuto, findingsBuild:
	default:
		return diagnostician{}, usage("auto, build or off", "--findings %q", mode)
	}
	d, err := openDictionary(p)
	switch {
	case err == nil:
		return diagnostician{dictionary: d}, nil
	case mode == findingsAuto:
		return diagnostician{why: fmt.Sprintf("%v: sinkproof dictionary makes one", err)}, nil
	}
	data, err := madeDictionary(ctx, p, dictionaryUnits, 0, s)
	if err != nil {
		return diagnostician{}, err
	}
	d, err = findings.Decode(data)
	return diagnostician{dictionary: d}, err
}

// madeDictionary builds a dictionary under a progress bar and keeps it where
// it can.
func madeDictionary(ctx context.Context, p *papers, units, workers int, s *screen) ([]byte, error) {
	s.line("making the fault dictionary: %d simulated units", dictionaryUnitsOf(p, units))
	bar := newProgressBar(s, dictionaryUnitsOf(p, units))
	data, err := buildDictionary(ctx, p, units, workers, bar.done)
	bar.end()
	if err != nil {
		return nil, err
	}
	if path, err := keepDictionary(dictionaryKey(p, units), data); err != nil {
		s.line("it serves this time only: %v", err)
	} else {
		s.line("kept as %s", path)
	}
	return data, nil
}

// attach puts findings into a run before it is committed.
//
// The zero diagnostician is nobody: the record then has no diagnosis.
func (d diagnostician) attach(run record.Run) record.Run {
	if d.dictionary == nil && d.why == "" {
		return run
	}
	return findings.Attach(run, d.dictionary, (*findings.Dictionary).Equal, d.why)
}

// printFindings prints what is most likely wrong, and what to rework.
func printFindings(w io.Writer, run record.Run) {
	found := false
	for _, f := range run.Suspects {
		if f.Probability == nil {
			continue
		}
		found = true
		fmt.Fprintf(w, "  %8s  %s\n", strings.ReplaceAll(page.Likely(*f.Probability), "\u00a0", " "), f.Title)
		if f.Rework != "" {
			fmt.Fprintf(w, "           rework: %s\n", f.Rework)
		}
		for _, t := range f.ReadingsFor {
			fmt.Fprintf(w, "           for: %s\n", t.Text)
		}
		for _, t := range f.ReadingsAgainst {
			fmt.Fprintf(w, "           against: %s\n", t.Text)
		}
		if len(f.Alike) > 0 {
			fmt.Fprintf(w, "           these readings do not always tell it from: %s; %s\n", strings.Join(f.Alike, ", "), separateText(f))
		}
	}
	switch d := run.Diagnosis; {
	case d == nil || run.Verdict == record.Pass:
	case d.Why != "":
		fmt.Fprintf(w, "  no findings: %s\n", d.Why)
	case d.Priors != "":
		fmt.Fprintf(w, "  before the run: %s\n", d.Priors)
	}
	if found {
		return
	}
	for _, f := range run.Suspects {
		fmt.Fprintf(w, "  rework: %s\n", f.Rework)
	}
}

// separateText names the one measurement that would tell faults apart.
func separateText(f record.Finding) string {
	if f.Measure == "" {
		return "no measurement of the list would"
	}
	return "what would: " + strings.ToLower(f.Measure[:1]) + f.Measure[1:]
}
