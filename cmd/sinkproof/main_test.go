package main

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// writerFunc is a function that takes what is written.
type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }

// TestLostResult: a result that could not be printed does not end as done, and
// the person is told where the answer is kept.
func TestLostResult(t *testing.T) {
	full := writerFunc(func([]byte) (int, error) { return 0, errors.New("no space left on device") })
	for _, args := range [][]string{
		{"run", "--serial", "HL-1", "--scenario", "terminations-only", "--out", t.TempDir()},
		{"run", "--list-faults"},
	} {
		var errs bytes.Buffer
		code := run(t.Context(), args, strings.NewReader(""), full, &errs)
		require.Equal(t, exitNoJudge, code, "%v: %s", args, errs.String())
		require.Contains(t, errs.String(), "no space left on device")
	}
}
