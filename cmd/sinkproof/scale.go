package main

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
)

// scaleFlags are the flags of sinkproof ledger simulate.
type scaleFlags struct {
	ledger string
	runs   int
	seed   uint64
}

func newScale() *cobra.Command {
	var f scaleFlags
	c := described(&cobra.Command{
		Use:   "simulate --ledger FILE --runs N",
		Short: "Fills a new ledger with simulated records, to try questions on many",
		Long: `Runs some units of each kind on the twin, takes the values of twenty checks from
them, and draws as many records as are wanted, whose values spread and hang together
as these do: first runs of N serials over one year, in lots of three invented
suppliers on four nests, one in fifty with a fault as the twin showed it. The records
are signed and chained; each says that it was drawn from a twin's statistics. They
are no evidence, nor the twin's own runs. A million take 15 GB on the disk.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof ledger simulate --ledger many.db --runs 100000`)
	fs := c.Flags()
	fs.StringVar(&f.ledger, "ledger", "", "the new ledger's `file`")
	fs.IntVar(&f.runs, "runs", 10000, "`number` of runs")
	fs.Uint64Var(&f.seed, "seed", 1, "seed of the records")
	return c
}

func (f *scaleFlags) run(c *cobra.Command) error {
	switch {
	case f.ledger == "":
		return usage("--ledger many.db", "which file?")
	case exists(f.ledger):
		return usage("name a file that is not there yet", "--ledger %s exists; simulated records are not added to others", f.ledger)
	case f.runs < 1 || f.runs > mostScale:
		return usage(fmt.Sprintf("1 to %d", mostScale), "--runs %d", f.runs)
	}
	p, err := load(defaultRig, defaultProduct, defaultScenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	if err := makeFolder(filepath.Dir(f.ledger)); err != nil {
		return err
	}
	g, err := newScaleSource(c.Context(), p, f.seed, f.runs)
	if err != nil {
		return err
	}
	bar := newProgressBar(newScreen(c.ErrOrStderr()), f.runs)
	defer bar.end()
	return g.fill(c.Context(), f.ledger, bar.done)
}

const (
	mostScale = 10_000_000
	// scaleChecks is how many checks and readings a simulated record has.
	scaleChecks = 20
	// scaleGood is how many good units the statistics are taken from.
	scaleGood = 40
	// scaleBatch is how many runs are committed together: 15 MB, which takes far
	// longer to write than to sync.
	scaleBatch = 1000
	// scaleFaulty is the share of runs with a fault.
	scaleFaulty = 0.02
)

// scaleSource draws records.
type scaleSource struct {
	papers *papers
	id     identity
	seed   uint64
	runs   int
	// good is a good run with the means of all of them; faulty are runs of each
	// fault as the twin gave them.
	good   record.Run
	faulty []record.Run
	// spread is that of the checks among good runs, at the place of each name.
	spread resample
	at     map[string]int
}

// newScaleSource takes the statistics from the twin.
func newScaleSource(ctx context.Context, p *papers, seed uint64, runs int) (s *scaleSource, err error) {
	l, err := newLine(ctx, p, seed)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.rig.Close()) }()
	s = &scaleSource{papers: p, id: l.id, seed: seed, runs: runs}
	if err := s.takeGood(ctx, l); err != nil {
		return nil, err
	}
	for _, d := range twin.Faults() {
		if !d.Applies(p.product) {
			continue
		}
		run, err := l.take(ctx, "model-"+d.Name, nil, twin.Fault{Name: d.Name})
		if err != nil {
			return nil, err
		}
		if run.Checks = s.shortened(run); failedAny(run.Checks) {
			s.faulty = append(s.faulty, run)
		}
	}
	return s, nil
}

// takeGood runs the good units.
func (s *scaleSource) takeGood(ctx context.Context, l *line) error {
	var values [][]float64
	for i := range scaleGood {
		run, err := l.take(ctx, fmt.Sprintf("model-%d", i), nil)
		if err != nil {
			return err
		}
		if i == 0 {
			s.good = run
			s.good.Checks = withLimits(run)
			s.at = map[string]int{}
			for k, c := range s.good.Checks {
				s.at[c.Name] = k
			}
		}
		unit := make([]float64, len(s.good.Checks))
		for k, c := range s.good.Checks {
			unit[k] = c.Value.Value
		}
		for _, c := range s.shortened(run) {
			if c.Value != nil && c.Value.Bound == "" {
				unit[s.at[c.Name]] = c.Value.Value
			}
		}
		values = append(values, unit)
	}
	s.spread = newResample(values)
	for k := range s.good.Checks {
		mean := *s.good.Checks[k].Value
		mean.Value = s.spread.mean[k]
		s.good.Checks[k].Value = &mean
	}
	return nil
}

// withLimits are the first checks of a run with a value that limits were held against.
func withLimits(r record.Run) []record.Check {
	var list []record.Check
	for _, c := range r.Checks {
		if c.Control || c.Value == nil || c.Value.Bound != "" || c.Lower == nil && c.Upper == nil {
			continue
		}
		c.Readings = nil
		if list = append(list, c); len(list) == scaleChecks {
			break
		}
	}
	return list
}

// shortened are those of a run's checks that records have.
func (s *scaleSource) shortened(r record.Run) []record.Check {
	var list []record.Check
	for _, c := range r.Checks {
		if _, wanted := s.at[c.Name]; wanted {
			c.Readings = nil
			list = append(list, c)
		}
	}
	return list
}

func failedAny(checks []record.Check) bool {
	return slices.ContainsFunc(checks, func(c record.Check) bool { return c.Answer == record.Failed })
}

// fill writes the ledger.
func (s *scaleSource) fill(ctx context.Context, path string, done func(int)) (err error) {
	l, err := ledger.Open(ctx, path, ledger.Opts{Key: s.id.key})
	if err != nil {
		return ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	// First, so that what was written until somebody lost patience can be verified.
	if err := record.SavePublicKey(path+".pub", record.Public(s.id.key)); err != nil {
		return err
	}
	if err := l.Simulate(ctx, s.batches(), done); err != nil {
		return ledgerTrouble(err)
	}
	return nil
}

// batches yields all records, in their order.
func (s *scaleSource) batches() iter.Seq2[[]record.Run, error] {
	return func(yield func([]record.Run, error) bool) {
		for from := 0; from < s.runs; from += scaleBatch {
			runs := make([]record.Run, min(scaleBatch, s.runs-from))
			errs := make([]error, len(runs))
			record.Spread(len(runs), func(i int) { runs[i], errs[i] = s.draw(from + i) })
			if !yield(runs, errors.Join(errs...)) {
				return
			}
		}
	}
}
