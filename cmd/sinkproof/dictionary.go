package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/scenarios/findings"
)

// dictionaryFlags are the flags of sinkproof dictionary.
type dictionaryFlags struct {
	rig, scenario, product string
	units, workers         int
	again, json            bool
	out                    string
}

func newDictionary() *cobra.Command {
	var f dictionaryFlags
	c := described(&cobra.Command{
		Use:   "dictionary",
		Short: "Makes the fault dictionary that findings rest on, and tells what it cannot tell apart",
		Long: `Simulates units without a fault and units with each fault the product can have,
from barely to grossly bad, on rigs that are drawn within their tolerances, and
makes the fault dictionary of them. It is kept in the user's cache, named by the
hashes of what it was made from, and every later run on the same files has
findings. For the shipped files it comes with the program.

It then lists the faults that this scenario cannot tell apart over part of their
severity, and the one measurement by hand that would.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof dictionary
  sinkproof dictionary --rig bench.hcl --scenario line.hcl --product lamp.hcl
  sinkproof dictionary --again --out lamp.faults --json`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.scenario, "scenario", defaultScenario, "scenario `file`, or the name of a shipped scenario")
	fs.StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	fs.IntVar(&f.units, "units", dictionaryUnits, "`number` of units of each kind; runs take only a dictionary of the default")
	fs.IntVar(&f.workers, "workers", 0, "`number` of rigs that are simulated side by side (default one for each core)")
	fs.BoolVar(&f.again, "again", false, "make it again where there is one")
	fs.BoolVar(&f.json, "json", false, "print the results for a program")
	fs.StringVar(&f.out, "out", "", "write the dictionary into this `file`, too")
	return c
}

func (f *dictionaryFlags) run(c *cobra.Command) error {
	switch {
	case f.workers < 0:
		return usage("leave it out for one on each core", "--workers %d is no number of workers", f.workers)
	case f.units < 10 || f.units > 5000:
		return usage("10 to 5000 units of each kind", "--units %d is too few or too many", f.units)
	}
	if f.out != "" {
		if err := readyFolder(filepath.Dir(f.out)); err != nil {
			return err
		}
	}
	p, err := load(f.rig, f.product, f.scenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	d, data, err := f.dictionary(c, p)
	if err != nil {
		return err
	}
	if f.out != "" {
		if err := writeBelow(filepath.Dir(f.out), filepath.Base(f.out), data); err != nil {
			return err
		}
	}
	r := newDictionaryResult(d, data)
	if f.json {
		return printJSON(c.OutOrStdout(), r)
	}
	r.print(c.OutOrStdout())
	return nil
}

// dictionary returns the one that there is, or makes it.
func (f *dictionaryFlags) dictionary(c *cobra.Command, p *papers) (*findings.Dictionary, []byte, error) {
	if !f.again && f.units == dictionaryUnits {
		if d, err := openDictionary(p); err == nil {
			data, err := d.Encode()
			return d, data, err
		}
	}
	data, err := madeDictionary(c.Context(), p, f.units, f.workers, newScreen(c.ErrOrStderr()))
	if err != nil {
		if errors.Is(err, findings.ErrDictionary) {
			return nil, nil, usage("take a scenario that asks more", "%w", err)
		}
		return nil, nil, err
	}
	d, err := findings.Decode(data)
	return d, data, err
}

// dictionaryResult is what the command prints.
type dictionaryResult struct {
	SHA256 string            `json:"sha256"`
	Key    string            `json:"key"`
	Units  int               `json:"units"`
	Bytes  int               `json:"bytes"`
	Kinds  []findings.Class  `json:"kinds"`
	Alike  []dictionaryGroup `json:"alike"`
}

type dictionaryGroup struct {
	Kinds []string `json:"kinds"`
	// Leak is the greatest mean probability that one of them gets of another.
	Leak float64 `json:"leak"`
	// Measure is the one additional measurement that would separate them.
	Measure string            `json:"measure,omitempty"`
	Shows   map[string]string `json:"shows,omitempty"`
	// Together are kinds that it does not tell from each other.
	Together [][]string `json:"together,omitempty"`
}

func newDictionaryResult(d *findings.Dictionary, data []byte) dictionaryResult {
	r := dictionaryResult{
		SHA256: findings.Hash(data), Key: d.Key, Units: d.Units, Bytes: len(data), Kinds: d.Classes, Alike: []dictionaryGroup{},
	}
	for _, g := range d.Groups() {
		one := dictionaryGroup{Leak: g.Leak, Measure: g.Measure.How}
		for _, class := range g.Classes {
			one.Kinds = append(one.Kinds, class.Name)
			if s := g.Measure.Shows[class.Name]; s != "" {
				if one.Shows == nil {
					one.Shows = map[string]string{}
				}
				one.Shows[class.Name] = s
			}
		}
		if one.Measure != "" {
			one.Together = g.Measure.Leaves(one.Kinds)
		}
		r.Alike = append(r.Alike, one)
	}
	return r
}

func (r dictionaryResult) print(w io.Writer) {
	fmt.Fprintf(w, "fault dictionary %s\n%d units of %d kinds, %d bytes\n", r.SHA256[:16], r.Units, len(r.Kinds), r.Bytes)
	if len(r.Alike) == 0 {
		fmt.Fprintf(w, "this scenario tells all of them apart\n")
		return
	}
	fmt.Fprintf(w, "not to be told apart over part of their severity:\n")
	for _, g := range r.Alike {
		for _, name := range g.Kinds {
			fmt.Fprintf(w, "  %-20s %s\n", name, g.Shows[name])
		}
		if g.Measure == "" {
			fmt.Fprintf(w, "    no measurement of the list would tell them apart\n")
			continue
		}
		if len(g.Together) == 0 {
			fmt.Fprintf(w, "    what would tell them apart: %s\n", g.Measure)
			continue
		}
		fmt.Fprintf(w, "    what would tell most of them apart: %s\n", g.Measure)
		for _, same := range g.Together {
			fmt.Fprintf(w, "    it gives the same for: %s\n", strings.Join(same, ", "))
		}
	}
}
