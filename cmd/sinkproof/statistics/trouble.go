package statistics

import (
	"errors"
	"fmt"

	"sinkproof/cmd/sinkproof/statistics/columns"
)

// ErrNegative is returned when a judgement was asked for and is negative. The
// answer was printed already.
var ErrNegative = errors.New("judged negative")

// Trouble is an input that nothing can be computed from, or wrong usage, with
// the person's next step.
type Trouble struct {
	Err  error
	Hint string
}

func (t *Trouble) Error() string { return t.Err.Error() }

func (t *Trouble) Unwrap() error { return t.Err }

// trouble makes a Trouble of a message and a next step, which may be empty.
func trouble(hint, format string, args ...any) error {
	return &Trouble{Err: fmt.Errorf(format, args...), Hint: hint}
}

// hinted takes the hint of a mistake in a file over.
func hinted(err error) error {
	var m *columns.Mistake
	if errors.As(err, &m) {
		return &Trouble{Err: err, Hint: m.Hint}
	}
	return err
}
