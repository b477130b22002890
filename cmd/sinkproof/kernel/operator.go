package kernel

import (
	"context"
	"fmt"
	"strings"

	"sinkproof/bench/twin"
)

// Operator is a person at the keyboard of a job who moves one unit as the
// program asks.
type Operator struct {
	Rig    *Rig
	Serial string
	Faults []twin.Fault
}

// What the program asks for, by the beginning of the line.
const (
	asksSeat   = "Seat "
	asksUnseat = "Take "
	asksReseat = "Unplug "
)

// Attend does what a job asks for until it ends.
func (o *Operator) Attend(ctx context.Context, j *Job) error {
	for done := 0; ; {
		var asked []string
		err := j.Await(ctx, "the end", func(said string) bool {
			asked = requests(said)
			return len(asked) > done
		})
		switch {
		case len(asked) > done:
			if err := o.serve(j, asked[done]); err != nil {
				return err
			}
			done++
		case j.Ended():
			return nil
		case err != nil:
			return err
		}
	}
}

// requests are the lines that ask for something.
func requests(said string) []string {
	var asked []string
	for line := range strings.Lines(said) {
		if strings.HasSuffix(line, "\n") && strings.Contains(line, "press Enter") {
			asked = append(asked, line)
		}
	}
	return asked
}

func (o *Operator) serve(j *Job, line string) error {
	err := o.Rig.Use(func(t *twin.Twin) error {
		switch {
		case strings.HasPrefix(line, asksUnseat):
			t.Unseat()
			return nil
		case strings.HasPrefix(line, asksReseat):
			t.Unseat()
			return t.Seat(o.Serial, o.Faults...)
		case strings.HasPrefix(line, asksSeat):
			return t.Seat(o.Serial, o.Faults...)
		}
		return fmt.Errorf("the program asks for something new: %q: %w", line, ErrMachine)
	})
	if err != nil {
		return err
	}
	return j.Feed("\n")
}
