package main

import (
	"flag"
	"fmt"
	"io"
	"os"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// run compares two folders and returns the exit code: 0 for the same, 1 for
// lots that differ, 2 for wrong usage.
func run(args []string, out, errs io.Writer) int {
	fs := flag.NewFlagSet("compare", flag.ContinueOnError)
	fs.SetOutput(errs)
	same := fs.Bool("same", false, "demand the same bytes")
	if err := fs.Parse(args); err != nil {
		return 2
	}
	if fs.NArg() != 2 {
		fmt.Fprintln(errs, "usage: compare [-same] LOT LOT")
		return 2
	}
	a, b := fs.Arg(0), fs.Arg(1)
	var r *Result
	var err error
	if *same {
		r, err = Bytes(a, b)
	} else {
		r, err = Answers(a, b)
	}
	if err != nil {
		fmt.Fprintf(errs, "compare %s with %s: %v\n", a, b, err)
		return 2
	}
	for _, d := range r.Differences {
		fmt.Fprintln(out, d)
	}
	fmt.Fprintln(out, r)
	if len(r.Differences) > 0 {
		return 1
	}
	return 0
}
