package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// checkFlags are the flags of sinkproof check.
type checkFlags struct {
	rig, product string
	format, json bool
}

func newCheck() *cobra.Command {
	var f checkFlags
	c := described(&cobra.Command{
		Use:   "check FILE...",
		Short: "Checks wiring, product and scenario files",
		Long: `Checks files before anything moves, and shows every mistake at once with its
line and a caret. A scenario is proved against a rig and a product: wiring and
product files on the same command line are taken, else --rig and --product.`,
		Args: someFiles,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}, `  sinkproof check line.hcl
  sinkproof check bench.hcl lamp.hcl line.hcl
  sinkproof check --fmt line.hcl`)
	c.Flags().StringVar(&f.rig, "rig", defaultRig, "wiring `file` or shipped rig to prove scenarios against")
	c.Flags().StringVar(&f.product, "product", defaultProduct, "product `file` or shipped product to prove scenarios against")
	c.Flags().BoolVar(&f.format, "fmt", false, "write the files in the one layout, once they are in order")
	c.Flags().BoolVar(&f.json, "json", false, "print the mistakes for a program")
	return c
}

// audit is what a check of several files found.
type audit struct {
	files []*source.File
	found source.Diagnostics
}

func (f *checkFlags) run(c *cobra.Command, paths []string) error {
	a := &audit{}
	rig, prod := f.rig, f.product
	var wanting []*source.File
	for _, path := range paths {
		file, err := a.read(path)
		if err != nil {
			return err
		}
		if file == nil {
			continue
		}
		switch kindOf(file) {
		case record.RoleWiring:
			_, diags := fixtures.Parse(path, file.Bytes)
			a.found = append(a.found, diags...)
			rig = path
		case record.RoleProduct:
			_, _, diags := product.Parse(path, file.Bytes)
			a.found = append(a.found, diags...)
			prod = path
		default:
			wanting = append(wanting, file)
		}
	}
	if err := a.scenarios(wanting, rig, prod); err != nil {
		return err
	}
	if f.format && !a.found.HasErrors() {
		if err := a.format(c.ErrOrStderr()); err != nil {
			return err
		}
	}
	return f.tell(c, a)
}

// read reads one file and its syntax. It returns no file where the syntax has
// mistakes: what such a file means nobody can say.
func (a *audit) read(path string) (*source.File, error) {
	data, err := source.Read(path)
	if err != nil {
		return nil, usage("", "%w", err)
	}
	file, diags := source.Parse(path, data)
	a.files = append(a.files, file)
	if diags.HasErrors() {
		a.found = append(a.found, diags...)
		return nil, nil
	}
	return file, nil
}

// kindOf tells wiring, product and scenario files apart by the block that
// names them. A file without any is taken for a scenario, whose loader says
// what is missing.
func kindOf(file *source.File) string {
	for _, b := range file.Body.Blocks {
		switch b.Type {
		case "rig":
			return record.RoleWiring
		case "product":
			return record.RoleProduct
		case "scenario":
			return record.RoleScenario
		}
	}
	return record.RoleScenario
}

// scenarios proves scenario files, once the rig and the product that they are
// proved against are in order themselves.
func (a *audit) scenarios(files []*source.File, rigName, productName string) error {
	if len(files) == 0 || a.found.HasErrors() {
		return nil
	}
	rig, err := fixtures.Load(rigName)
	if err != nil {
		return a.against("--rig", rigName, err)
	}
	prod, _, err := product.Load(productName)
	if err != nil {
		return a.against("--product", productName, err)
	}
	for _, file := range files {
		_, diags := scenarios.Load(file, rig.Rig, prod)
		a.found = append(a.found, diags...)
	}
	return nil
}

// against says that what a scenario is to be proved against is not in order.
func (a *audit) against(flag, name string, err error) error {
	return usage(fmt.Sprintf("sinkproof check %s shows its mistakes", name), "%s %s: %w", flag, name, err)
}

// format writes each file in the one layout where it is not yet.
func (a *audit) format(errs io.Writer) error {
	for _, file := range a.files {
		nice := source.Format(file.Bytes)
		if bytes.Equal(nice, file.Bytes) {
			continue
		}
		info, err := os.Stat(file.Path)
		if err != nil {
			return fmt.Errorf("format: %w", err)
		}
		if err := record.WriteFile(file.Path, nice, info.Mode().Perm()); err != nil {
			return fmt.Errorf("format %s: %w", file.Path, err)
		}
		fmt.Fprintln(errs, "formatted", file.Path)
	}
	return nil
}

// mistake is a diagnostic for a program.
type mistake struct {
	File     string `json:"file"`
	Line     int    `json:"line"`
	Column   int    `json:"column"`
	Severity string `json:"severity"`
	Summary  string `json:"summary"`
	Detail   string `json:"detail"`
}

func (f *checkFlags) tell(c *cobra.Command, a *audit) error {
	found := a.found.Sorted()
	var err error
	if f.json {
		list := make([]mistake, 0, len(found))
		for _, d := range found {
			list = append(list, mistake{d.Range.Filename, d.Range.Start.Line, d.Range.Start.Column, d.Severity.String(), d.Summary, d.Detail})
		}
		err = printJSON(c.OutOrStdout(), list)
	} else {
		err = found.Render(c.OutOrStdout(), a.files, newScreen(c.OutOrStdout()).colour)
	}
	if err != nil {
		return errors.Join(errors.New("show the mistakes"), err)
	}
	if found.HasErrors() {
		return judgedBad()
	}
	if !f.json {
		for _, file := range a.files {
			fmt.Fprintf(c.OutOrStdout(), "%s: in order\n", file.Path)
		}
	}
	return nil
}
