package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
	"sinkproof/reports/ledger"
	"sinkproof/reports/quality/moments"
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
		Long: `Runs some units of each kind on the twin, takes the mean and the spread of twenty
checks from them, and draws as many records from these as are wanted: first runs of
N serials over one year, in lots of three invented suppliers on four nests, one in
fifty with a fault as the twin showed it. The records are signed and chained; each
says that a twin made it. They are no evidence, nor the twin's own runs.`,
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
	// scaleBatch is how many runs are committed together.
	scaleBatch = 1000
	// scaleFaulty is the share of runs with a fault.
	scaleFaulty = 0.02
)

// scaleSource draws records.
type scaleSource struct {
	papers *papers
	id     identity
	random *rand.Rand
	seed   uint64
	runs   int
	// model is a good run; faulty are runs of each fault; spread is that of each
	// check among good runs.
	model  record.Run
	faulty []record.Run
	spread map[string]*moments.Running
}

// newScaleSource takes the statistics from the twin.
func newScaleSource(ctx context.Context, p *papers, seed uint64, runs int) (s *scaleSource, err error) {
	l, err := newLine(ctx, p, seed)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.rig.Close()) }()
	s = &scaleSource{papers: p, id: l.id, seed: seed, runs: runs, spread: map[string]*moments.Running{}, random: rand.New(rand.NewPCG(seed, 0x5ca1e))}
	for i := range scaleGood {
		run, err := l.take(ctx, fmt.Sprintf("model-%d", i), nil)
		if err != nil {
			return nil, err
		}
		for _, c := range run.Checks {
			if c.Value != nil && c.Value.Bound == "" {
				if s.spread[c.Name] == nil {
					s.spread[c.Name] = &moments.Running{}
				}
				s.spread[c.Name].Add(c.Value.Value)
			}
		}
		s.model = run
	}
	s.model.Checks = shortened(s.model, nil)
	wanted := map[string]bool{}
	for _, c := range s.model.Checks {
		wanted[c.Name] = true
	}
	for _, d := range twin.Faults() {
		if !d.Applies(p.product) {
			continue
		}
		run, err := l.take(ctx, "model-"+d.Name, nil, twin.Fault{Name: d.Name})
		if err != nil {
			return nil, err
		}
		if run.Checks = shortened(run, wanted); failedAny(run.Checks) {
			s.faulty = append(s.faulty, run)
		}
	}
	return s, nil
}

// shortened are the first checks of a run that have a value and a limit, or those
// that are wanted.
func shortened(r record.Run, wanted map[string]bool) []record.Check {
	var list []record.Check
	for _, c := range r.Checks {
		if wanted == nil && (c.Control || c.Value == nil || c.Lower == nil && c.Upper == nil) || wanted != nil && !wanted[c.Name] {
			continue
		}
		c.Readings = nil
		if list = append(list, c); len(list) == scaleChecks {
			break
		}
	}
	return list
}

func failedAny(checks []record.Check) bool {
	for _, c := range checks {
		if c.Answer == record.Failed {
			return true
		}
	}
	return false
}

// fill writes the ledger.
func (s *scaleSource) fill(ctx context.Context, path string, done func(int)) (err error) {
	l, err := ledger.Open(ctx, path, ledger.Opts{Key: s.id.key})
	if err != nil {
		return ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, l.Close()) }()
	batch := make([]record.Run, 0, scaleBatch)
	for i := range s.runs {
		run, err := s.draw(i)
		if err != nil {
			return err
		}
		if batch = append(batch, run); len(batch) == scaleBatch || i == s.runs-1 {
			if err := l.Simulate(ctx, batch); err != nil {
				return ledgerTrouble(err)
			}
			batch = batch[:0]
			done(i + 1)
		}
	}
	return record.SavePublicKey(path+".pub", record.Public(s.id.key))
}

// scaleYear is the time over which the runs spread.
const scaleYear = 365 * 24 * time.Hour

// draw makes the i-th record: the checks of a good run or of a faulty one, with
// values drawn anew.
func (s *scaleSource) draw(i int) (record.Run, error) {
	at := firstMorning(s.seed).Add(time.Duration(float64(scaleYear) * float64(i) / float64(s.runs)))
	serial := fmt.Sprintf("SIM-%08d", i+1)
	id, err := record.NewID(at, s.id.random(serial, 1))
	if err != nil {
		return record.Run{}, fmt.Errorf("name the run of %s: %w", serial, err)
	}
	r := record.Run{
		Schema: record.RunSchema, DurationUS: s.model.DurationUS, Verdict: record.Pass, Bin: record.BinPass,
		Opening: record.Opening{
			ID: id, Serial: serial, Product: s.papers.product.Name, Lot: fmt.Sprintf("S-%03d", i*200/s.runs),
			Supplier: []string{"Fenmark Assembly", "Tarnholm Circuits", "Osterbek Boards"}[i%3], Attempt: 1, Nest: 1 + i%4,
			Bench: s.id.bench, Started: record.Instant(at), Files: s.papers.files, Decision: s.papers.scenario.Decision,
		},
	}
	source := s.model.Checks
	if len(s.faulty) > 0 && s.random.Float64() < scaleFaulty {
		source = s.faulty[s.random.IntN(len(s.faulty))].Checks
	}
	for _, c := range source {
		if c.Value != nil && c.Value.Bound == "" {
			v := *c.Value
			s.redraw(&c, &v)
			r.Readings = append(r.Readings, record.Reading{Name: c.Name, Channel: "simulated", Value: v, AtUS: c.AtUS})
		}
		if c.Answer == record.Failed {
			r.Verdict, r.Bin, r.Reason = record.Fail, record.BinRework, c.Title
		}
		r.Checks = append(r.Checks, c)
	}
	return r, nil
}

// redraw draws the value of a check by the spread of good units, around their
// mean where it passed and around its own value where it failed.
func (s *scaleSource) redraw(c *record.Check, v *record.Value) {
	sample := s.spread[c.Name]
	if sample == nil || !(sample.SD() > 0) {
		return
	}
	around := sample.Mean()
	if c.Answer != record.Passed {
		around = v.Value
	}
	drawn := around + sample.SD()*s.random.NormFloat64()
	inside := (c.Lower == nil || drawn >= c.Lower.Acceptance) && (c.Upper == nil || drawn <= c.Upper.Acceptance)
	if inside != (c.Answer == record.Passed) || math.IsNaN(drawn) {
		return // the answer stands as the twin gave it
	}
	v.Value = drawn
	c.Value = v
}
