package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/fixtures/product"
	"sinkproof/reports/ledger"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/golden"
)

func newGolden() *cobra.Command {
	c := &cobra.Command{
		Use:   "golden",
		Short: "Proves the rig with units whose answer is known",
		Long: `Golden units are passive boards, good and with known faults, that are run through
the plug like any unit. Each is registered with its expected answer. Production
runs on hardware are refused until every golden unit of the rig and the product
has answered as expected within its time; on the twin that is so once one is
registered.

One that deviates puts every record of the nest since its last good answer there
under suspicion. That is an entry of the chain of its own: nothing is rewritten.`,
	}
	c.AddCommand(newGoldenAdd(), newGoldenList(), newGoldenCheck(), newGoldenRetire(), newGoldenDrift(), newGoldenSuspects(), newGoldenWithdraw())
	return c
}

// goldenPlace says which rig and which ledger a golden unit belongs to.
type goldenPlace struct {
	rig, ledger, out string
	seed             uint64
}

func (p *goldenPlace) flags(fs *pflag.FlagSet) {
	fs.StringVar(&p.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&p.ledger, "ledger", "", "the ledger's `file` (default ledger.db in the output folder)")
	fs.StringVar(&p.out, "out", "sinkproof-runs", "output `folder`")
	fs.Uint64Var(&p.seed, "seed", 1, "seed of the twin")
}

func (p *goldenPlace) path() string {
	if p.ledger == "" {
		return filepath.Join(p.out, "ledger.db")
	}
	return p.ledger
}

// bench is whose chain is meant.
func (p *goldenPlace) bench(name string) record.Bench {
	kind := record.Twin
	if exists(p.rig) {
		kind = record.Hardware
	}
	return record.Bench{Name: name, Kind: kind}
}

// desk is a station without a rig that adds to the ledger what a person says. The
// clock must be one that can be trusted.
func (p *goldenPlace) desk(c *cobra.Command, papers *papers) (*station, error) {
	s, err := p.signs(c, papers)
	if err != nil {
		return nil, err
	}
	if _, err := s.trustClock(c.Context()); err != nil {
		return nil, errors.Join(err, s.ledger.Close())
	}
	return s, nil
}

// atRig is the desk of a rig, for what is said of no product.
func (p *goldenPlace) atRig(c *cobra.Command) (*station, error) {
	papers, err := p.onlyRig(c)
	if err != nil {
		return nil, err
	}
	return p.desk(c, papers)
}

// units opens the ledger for reading and returns the golden units of the rig of
// that name. The caller closes the view.
func (p *goldenPlace) units(c *cobra.Command) (view *ledger.View, name string, units []ledger.GoldenUnit, err error) {
	rig, err := loadRig(p.rig, c.ErrOrStderr())
	if err != nil {
		return nil, "", nil, err
	}
	name = rig.Rig.Name
	if view, err = ledger.OpenView(c.Context(), p.path()); err != nil {
		return nil, "", nil, ledgerTrouble(err)
	}
	if units, err = view.GoldenUnits(c.Context(), p.bench(name)); err != nil {
		return nil, "", nil, errors.Join(ledgerTrouble(err), view.Close())
	}
	return view, name, units, nil
}

// signs is a desk whatever the clock shows.
func (p *goldenPlace) signs(c *cobra.Command, papers *papers) (*station, error) {
	s := &station{papers: papers, screen: newScreen(c.ErrOrStderr()), out: p.out}
	if err := makeFolder(filepath.Dir(p.path())); err != nil {
		return nil, err
	}
	var err error
	if papers.own {
		s.identity, err = hardwareIdentity(papers, p.path())
	} else {
		var sim *simulated
		if sim, err = newSimulated(papers, p.seed, false); err == nil {
			s.identity, err = twinIdentity(papers, p.seed, sim.twin.Hardware().Clock)
		}
	}
	if err != nil {
		return nil, err
	}
	if err := s.openLedger(c.Context(), p.path()); err != nil {
		return nil, err
	}
	return s, nil
}

// onlyRig loads no more than the wiring file, and the default product where a
// twin must be built.
func (p *goldenPlace) onlyRig(c *cobra.Command) (*papers, error) {
	rig, err := loadRig(p.rig, c.ErrOrStderr())
	if err != nil {
		return nil, err
	}
	prod, _, err := product.Load(defaultProduct)
	if err != nil {
		return nil, fmt.Errorf("product of the twin: %w", err)
	}
	return &papers{rig: rig, product: prod, own: exists(p.rig)}, nil
}

// signed is what a named person does, and why.
type signed struct{ by, reason string }

func (s *signed) flags(fs *pflag.FlagSet) {
	fs.StringVar(&s.by, "by", "", "`person` who does it")
	fs.StringVar(&s.reason, "reason", "", "why")
}

func (s *signed) complete() error {
	if s.by == "" || s.reason == "" {
		return usage(`--by "A. Engineer" --reason "its receptacle is worn out"`, "somebody must answer for it: --by and --reason")
	}
	return nil
}

// goldenTrouble turns what the ledger says about golden units into an outcome.
func goldenTrouble(err error) error {
	switch {
	case errors.Is(err, ledger.ErrGolden), errors.Is(err, ledger.ErrRun):
		return usage("sinkproof rig golden list shows the golden units, sinkproof rig golden suspects the suspicions", "%w", err)
	case errors.Is(err, record.ErrInvalid):
		return usage("", "%w", err)
	}
	return ledgerTrouble(err)
}

// inUse are the golden units that are not retired, each with the latest run that
// counts under the terms: who runs two scenarios in turn proves each of them. What
// one answered in another nest says nothing about this one.
func (s *station) inUse(ctx context.Context, t golden.Terms) ([]golden.Unit, error) {
	units, err := s.ledger.GoldenUnits(ctx, s.bench)
	if err != nil {
		return nil, fmt.Errorf("look for the golden units: %w", err)
	}
	var list []golden.Unit
	for _, u := range units {
		if u.Retired != nil {
			continue
		}
		nest := s.papers.rig.Rig.Nest.Number
		one := golden.Unit{Golden: u.Golden}
		if last := goldenRun(u.Last); last != nil && last.Nest == nest {
			one.Last = last
		}
		for run, err := range s.ledger.LatestGoldenRuns(ctx, u) {
			if err != nil {
				return nil, fmt.Errorf("look for the golden units: %w", err)
			}
			if r := goldenRun(&run); r.Nest == nest && t.Counts(*r) {
				one.Last = r
				break
			}
		}
		list = append(list, one)
	}
	return list, nil
}

func goldenRun(r *ledger.GoldenRun) *golden.Run {
	if r == nil {
		return nil
	}
	return &golden.Run{Opening: r.Opening, Answer: r.Answer, Deviations: r.Deviations, Record: r.Run}
}

// shift is the standing of the station's rig for its product.
func (s *station) shift(ctx context.Context) (golden.Shift, error) {
	t := golden.Terms{Product: s.papers.product.Name, Files: s.papers.files, Calibration: s.bench.Calibration}
	units, err := s.inUse(ctx, t)
	return golden.NewShift(units, t, s.now()), err
}

// proven says how a run deals with a shift that is not open.
type proven struct{ without string }

func (f *proven) flags(fs *pflag.FlagSet) {
	fs.StringVar(&f.without, "no-golden", "", "`reason` to run without the golden units having answered; the record says so")
}

// demand refuses production while the shift is not open. The twin needs none as
// long as it has no golden unit. It comes after the calibration was chosen,
// which the answers of the golden units must stand on as well.
func (f *proven) demand(ctx context.Context, s *station) error {
	shift, err := s.shift(ctx)
	if err != nil {
		return err
	}
	closed := shift.Open()
	if closed == nil || errors.Is(closed, golden.ErrNone) && s.bench.Kind == record.Twin {
		return nil
	}
	if f.without != "" {
		s.bench.Unproven = f.without
		return nil
	}
	next := "sinkproof rig golden check runs them"
	if errors.Is(closed, golden.ErrNone) {
		next = "sinkproof rig golden add registers one"
		closed = fmt.Errorf("rig %s, product %s: %w", s.bench.Name, s.papers.product.Name, closed)
	}
	return refused(closed, next+"; --no-golden REASON runs without, and the record says so")
}
