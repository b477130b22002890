// Command sinkproof proves that a USB-C powered gadget charges from every
// supply its owner may plug into it, and keeps the evidence per serial.
//
// Results go to standard output, everything else to standard error. The exit
// code is 0 for pass or done, 1 when a unit, lot or file was judged bad, 2 for
// wrong usage, 3 when the bench could not judge, 4 when it refused.
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
)

// version is the program's version as records name it.
const version = "0.1.0"

// heapLimit keeps the resident memory of the program below 64 MiB on a small
// computer: about half of that is code and what SQLite and the runtime hold.
// Measured with the demo of 24 units: 73 MB resident without a limit, 58 MB
// with this one, for a third more processor time.
const heapLimit = 32 << 20

func main() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(heapLimit)
	}
	// The second signal kills: a person who insists must win, and the
	// hardware drops the coils by itself.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run executes one command line and returns its exit code.
func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	results := &printed{w: out}
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(results)
	root.SetErr(errs)
	code := report(errs, root.ExecuteContext(ctx))
	if results.err == nil {
		return code
	}
	lost := report(errs, noJudge(fmt.Errorf("print the result: %w", results.err), "what was judged is kept: ask again with sinkproof unit"))
	return max(code, lost)
}

// printed is standard output. It remembers the first line that could not be
// written, so that a result that nobody can have seen does not end as done.
type printed struct {
	w   io.Writer
	err error
}

func (p *printed) Write(data []byte) (int, error) {
	n, err := p.w.Write(data)
	if err != nil && p.err == nil {
		p.err = err
	}
	return n, err
}
