package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"sinkproof/cmd/sinkproof/statistics"
)

// The exit codes of every subcommand.
const (
	exitDone    = 0 // pass or done
	exitBad     = 1 // a unit, lot or file was judged bad
	exitUsage   = 2 // wrong usage
	exitNoJudge = 3 // the bench could not judge
	exitRefused = 4 // interlock, expired calibration, golden unit missing
)

// outcome is an error that carries its exit code and the person's next step.
// A nil cause means that everything was said already.
type outcome struct {
	code int
	err  error
	hint string
}

func (o *outcome) Error() string {
	if o.err == nil {
		return fmt.Sprintf("exit %d", o.code)
	}
	return o.err.Error()
}

func (o *outcome) Unwrap() error { return o.err }

// judgedBad ends with code 1 without a further message.
func judgedBad() error { return &outcome{code: exitBad} }

func usage(hint, format string, args ...any) error {
	return &outcome{code: exitUsage, err: fmt.Errorf(format, args...), hint: hint}
}

func noJudge(err error, hint string) error {
	return &outcome{code: exitNoJudge, err: err, hint: hint}
}

func refused(err error, hint string) error {
	return &outcome{code: exitRefused, err: err, hint: hint}
}

// classified gives an error of the statistics its exit code.
func classified(err error) error {
	var t *statistics.Trouble
	switch {
	case errors.Is(err, statistics.ErrNegative):
		return judgedBad()
	case errors.Is(err, statistics.ErrUndecided):
		return &outcome{code: exitNoJudge}
	case errors.As(err, &t):
		return usage(t.Hint, "%w", err)
	}
	return err
}

// report prints the error for a person and returns the exit code. What no
// subcommand classified is an input that could not be used.
func report(w io.Writer, err error) int {
	if err == nil {
		return exitDone
	}
	var o *outcome
	if err = classified(err); !errors.As(err, &o) {
		o = &outcome{code: exitUsage, err: err}
		if strings.HasPrefix(err.Error(), "unknown command") {
			o.hint = "sinkproof --help lists the commands"
		}
		if errors.Is(err, context.Canceled) {
			o = &outcome{code: exitNoJudge, err: errors.New("interrupted")}
		}
	}
	if o.err != nil {
		fmt.Fprintln(w, "sinkproof:", o.err)
	}
	if o.hint != "" {
		fmt.Fprintln(w, "  next:", o.hint)
	}
	return o.code
}
