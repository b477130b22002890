package golden

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// ErrExpected is the cause when an expectation cannot be that of a golden unit
// of the scenario.
var ErrExpected = errors.New("nothing that a golden unit can be expected to answer")

// Proven demands that the expectation names only checks that the scenario asks
// and that can fail on a unit. It wraps ErrExpected.
func Proven(e record.Expected, sc *scenarios.Scenario) error {
	var names []string
	for _, c := range sc.Checks() {
		names = append(names, c.Name)
	}
	asked := slices.Concat(e.Fails, e.MayFail)
	for _, v := range e.Values {
		asked = append(asked, v.Check)
	}
	for _, name := range asked {
		if !slices.Contains(names, name) {
			return fmt.Errorf("scenario %s asks no check %q: %w%s", sc.Name, name, ErrExpected, strings.TrimSuffix("."+source.Suggest(name, names), "."))
		}
	}
	return nil
}

// As is the expectation that a unit answers as it did in a run. It wraps
// ErrExpected for a run without a verdict.
func As(r record.Run) (record.Expected, error) {
	if r.Verdict == record.None {
		return record.Expected{}, fmt.Errorf("run %s has no verdict: %w", r.ID, ErrExpected)
	}
	e := record.Expected{Verdict: r.Verdict}
	for _, c := range r.Checks {
		if c.Answer == record.Failed {
			e.Fails = append(e.Fails, c.Name)
		}
	}
	return e, nil
}

// Around is the range of a check's value that lies within a share of what a run
// measured. It wraps ErrExpected where the run has no such value.
func Around(r record.Run, check string, share float64) (record.ExpectedValue, error) {
	i := slices.IndexFunc(r.Checks, func(c record.Check) bool { return c.Name == check })
	if i < 0 || r.Checks[i].Value == nil || r.Checks[i].Value.Bound != "" || r.Checks[i].Value.Value == 0 {
		return record.ExpectedValue{}, fmt.Errorf("run %s measured no value for check %q: %w", r.ID, check, ErrExpected)
	}
	v := r.Checks[i].Value
	half := share * math.Abs(v.Value)
	return record.ExpectedValue{Check: check, Unit: v.Unit, Lower: v.Value - half, Upper: v.Value + half}, nil
}
