// Command sinkproof proves that a USB-C powered gadget charges from every
// supply its owner may plug into it, and keeps the evidence per serial.
//
// Results go to standard output, everything else to standard error. The exit
// code is 0 for pass or done, 1 when a unit, lot or file was judged bad, 2 for
// wrong usage, 3 when the bench could not judge, 4 when it refused.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// version is the program's version as records name it.
const version = "0.1.0"

func main() {
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
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	return report(errs, root.ExecuteContext(ctx))
}
