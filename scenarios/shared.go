package scenarios

import (
	"context"

	"sinkproof/bench"
)

// Windows says how readings that follow each other share the bench's time.
type Windows string

// Readings are taken one after the other, or together where they stand on
// different chips.
const (
	OneByOne Windows = ""
	Shared   Windows = "shared"
)

// together returns how many of the steps that come next are taken together; 0
// or 1 for none.
func (s *Scenario) together(steps []Step) int {
	if s.Windows != Shared {
		return 0
	}
	for i, step := range steps {
		if _, ok := step.(Read); !ok {
			return i
		}
	}
	return len(steps)
}

// Together returns the groups of steps of a stage that are taken at once: a
// group of readings that share their time, or one step.
func (s *Scenario) Together(st Stage) [][]Step {
	var out [][]Step
	for rest := st.Steps; len(rest) > 0; {
		n := max(1, s.together(rest))
		out = append(out, rest[:n])
		rest = rest[n:]
	}
	return out
}

// readTogether takes readings that share their time. Each is stored as if it
// had been taken alone.
func (r *run) readTogether(ctx context.Context, steps []Step) error {
	asks := make([]bench.Ask, len(steps))
	for i, step := range steps {
		s := step.(Read)
		asks[i] = bench.Ask{Channel: s.Channel, ReadOptions: bench.ReadOptions{Expect: s.Expect, Periods: s.Periods}}
		if s.Band > 0 {
			asks[i].Band, asks[i].Within = s.Band, r.within(s)
		}
	}
	answers, err := r.b.ReadTogether(ctx, asks)
	if err != nil {
		return err
	}
	for i, step := range steps {
		s, a := step.(Read), answers[i]
		if err := r.store(s.Name, steadied(s, a.Reading, a.Met), s.Channel, a.Reading.At); err != nil {
			return err
		}
	}
	return nil
}
