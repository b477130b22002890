package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
	"sinkproof/scenarios"
	"sinkproof/scenarios/population"
	"sinkproof/scenarios/takt"
)

// taktFlags are the flags of sinkproof takt.
type taktFlags struct {
	rig, scenario, product string
	units, workers, nests  int
	seed                   uint64
	faultShare             float64
	operation              time.Duration
	json                   bool
	out                    string
}

// nestsRig is the shipped rig with several nests; each is built like bench-one.
const nestsRig = "bench-four"

// allNests asks for every nest of the rig.
const allNests = -1

func newTakt() *cobra.Command {
	var f taktFlags
	c := described(&cobra.Command{
		Use:   "takt",
		Short: "Tells where the time of a run goes, and which order of the rounds costs least",
		Long: `Runs good units and units with each fault through a scenario on the twin and
tells where each millisecond goes: bus transfers, contacts that come to rest,
supplies that debounce and rise, mains averaging, holds, discharge. Beside it
stands the floor that physics sets, computed from wiring, product and scenario,
and what fixed waits would take.

It then orders the rounds so that time and relay operations cost least over the
mix of good and faulty units. What a round requires, trusts, reads from or blames
stays before it, what decides on quarantine stays behind what is harmless, and
readings on different chips share their time. The planned order is run, too, and
must judge every unit alike, else the command ends with 1.

Where the wiring file has several nests, what they give side by side at 400 kHz and
at 100 kHz is simulated in the planned order, against each of them alone, with the
load of the buses.

With --out it writes takt.html and takt.pdf, and the scenario with the order and
the shared windows stated in it, ready for sinkproof run --scenario.

--json prints one object: file and planned (order, mean, floor, over_floor, and
typical: the timeline of a run in the middle of all, in nanoseconds), plan
(order, exact, sets, expected cost of both orders), brief (the plan where only
hazards are asked for after a fail), fixed_seconds, differences, nests (for each
frequency: units an hour of one nest and of all, load of the buses, differences).
Times are in seconds, shares are fractions of 1.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof takt
  sinkproof takt --scenario line.hcl --product lamp.hcl --out takt
  sinkproof takt --fault-share 0.2 --operation 5ms --json > takt.json`)
	fs := c.Flags()
	fs.StringVar(&f.rig, "rig", nestsRig, "wiring `file`, or the name of a shipped rig")
	fs.StringVar(&f.scenario, "scenario", defaultScenario, "scenario `file`, or the name of a shipped scenario")
	fs.StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	fs.IntVar(&f.units, "units", 120, "`number` of units, half of them good")
	fs.Uint64Var(&f.seed, "seed", 1, "seed of units and rigs")
	fs.IntVar(&f.nests, "nests", allNests, "`number` of the rig's nests that are simulated side by side, from the first on; 0 for none")
	fs.Lookup("nests").DefValue = "all"
	fs.IntVar(&f.workers, "workers", 0, "`number` of rigs that are simulated side by side (default one for each core)")
	fs.Float64Var(&f.faultShare, "fault-share", 0.01, "assumed `share` of units with a fault in a production, all faults equally likely")
	fs.DurationVar(&f.operation, "operation", time.Millisecond, "`time` that a relay operation is worth")
	fs.BoolVar(&f.json, "json", false, "print the results for a program")
	fs.StringVar(&f.out, "out", "", "write takt.html, takt.pdf and the planned scenario into this `folder`")
	return c
}

// taktStudy is what the command tells.
type taktStudy struct {
	takt.Report
	Nests []nestStudy `json:"nests,omitempty"`
}

func (f *taktFlags) run(c *cobra.Command) error {
	switch {
	case f.units < 2:
		return usage("--units 120", "--units %d are too few to be halved", f.units)
	case f.nests < allNests:
		return usage("0 for none; leave it out for all", "--nests %d is no number of nests", f.nests)
	case f.workers < 0:
		return usage("leave it out for one on each core", "--workers %d is no number of workers", f.workers)
	case !(f.faultShare >= 0 && f.faultShare <= 1):
		return usage("a share is between 0 and 1, such as 0.01 for one in a hundred", "--fault-share %g", f.faultShare)
	case f.operation < 0:
		return usage("a time such as 1ms", "--operation %s is no price", f.operation)
	}
	p, err := load(f.rig, f.product, f.scenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	if has := len(p.nests()); f.nests > has {
		return usage("leave it out for all", "--nests %d: the rig %s has %d", f.nests, p.rig.Rig.Name, has)
	}
	if err := readyFolder(f.out); err != nil {
		return err
	}
	r, err := f.study(c, p)
	if errors.Is(err, context.Canceled) {
		return noJudge(errors.New("interrupted; nothing can be said yet"), "")
	}
	if errors.Is(err, takt.ErrNonePassed) {
		return noJudge(fmt.Errorf("takt of %s on rig %s: %w", p.scenario.Name, p.rig.Rig.Name, err), "sinkproof run --twin-unit good with the same files says why")
	}
	if err != nil {
		return fmt.Errorf("study the takt of %s: %w", p.scenario.Name, err)
	}
	return f.tell(c, p, r)
}

// study runs the scenario as it stands, with its windows shared, and in the
// planned order; then in several nests at once.
func (f *taktFlags) study(c *cobra.Command, p *papers) (taktStudy, error) {
	r, best, err := f.orders(c, p)
	nests := f.nests
	if nests == allNests {
		nests = len(p.nests())
	}
	if err != nil || nests < 2 {
		return taktStudy{Report: r}, err
	}
	planned := *p
	planned.scenario = best
	side, err := f.sideBySide(c.Context(), &planned, nests)
	return taktStudy{Report: r, Nests: side}, err
}

// orders compares the orders. The scenario that comes back is in the planned
// one.
func (f *taktFlags) orders(c *cobra.Command, p *papers) (r takt.Report, best *scenarios.Scenario, err error) {
	rig := takt.NewRig(p.rig.Rig, p.product)
	r = takt.Report{
		Scenario: p.scenario.Name, Product: p.product.Name, Rig: p.rig.Rig.Name, Units: f.units,
		FaultShare: f.faultShare, Operation: f.operation.Seconds(),
	}
	defer makeRoom()()
	bar := newProgressBar(newScreen(c.ErrOrStderr()), 3*f.units)
	defer bar.end()
	begun := 0
	through := func(sc *scenarios.Scenario) (*takt.Study, error) {
		s := takt.NewStudy(sc)
		before := begun
		begun += f.units
		done := func(units int) { bar.done(before + units) }
		_, err := population.Run(c.Context(), f.plan(p), population.Options{Workers: f.workers, Progress: done}, taktLines(p, sc), s.Digest, s.Take)
		return s, err
	}
	own, err := through(p.scenario)
	if err != nil {
		return r, nil, err
	}
	shared := takt.Shared(p.scenario)
	sample, err := through(shared)
	if err != nil {
		return r, nil, err
	}
	samples, prices := sample.Samples(f.faultShare), takt.Prices{Operation: f.operation.Seconds()}
	if r.Plan, err = rig.Best(shared, samples, prices); err != nil {
		return r, nil, err
	}
	if shared.AfterFail == scenarios.AskAll {
		brief := *shared
		brief.AfterFail = scenarios.AskHazards
		plan, err := rig.Best(&brief, samples, prices)
		if err != nil {
			return r, nil, err
		}
		r.Brief = &plan
	}
	if best, err = shared.InOrder(r.Plan.Order); err != nil {
		return r, nil, err
	}
	planned, err := through(best)
	if err != nil {
		return r, nil, err
	}
	if r.Fixed, err = rig.Fixed(p.scenario); err != nil {
		return r, nil, err
	}
	r.FixedSeconds, r.Differences = takt.Sum(r.Fixed), takt.Differences(own, planned)
	if r.File, err = rig.NewRun(own); err != nil {
		return r, nil, err
	}
	r.Planned, err = rig.NewRun(planned)
	return r, best, err
}

// unitsPerTaktRig is how many units meet one draw of the rig: supplies differ
// more from rig to rig than a unit does from the next.
const unitsPerTaktRig = 6

// plan has half of the units good and the rest with each fault that the product
// can have.
func (f *taktFlags) plan(p *papers) population.Plan {
	good := []population.Class{population.ClassOf(f.units - f.units/2)}
	var faulty []population.Class
	for _, d := range twin.Faults() {
		if d.Applies(p.product) {
			faulty = append(faulty, population.ClassOf(0, d.Name))
		}
	}
	alike := func(population.Class) float64 { return 1 }
	return population.Plan{Seed: f.seed, PerRig: unitsPerTaktRig, Classes: append(good, population.Share(f.units/2, faulty, alike)...)}
}

// taktLine is a simulated rig with a watch on it.
type taktLine struct {
	*line
	watch *takt.Watch
}

// taktLines makes the watched rigs of a population.
func taktLines(p *papers, sc *scenarios.Scenario) population.Factory {
	return func(ctx context.Context, r population.Rig) (population.Simulator, error) {
		sim, err := newSimulated(p, r.Seed, false)
		if err != nil {
			return nil, err
		}
		w := takt.NewWatch(p.rig.Rig, nil)
		l, err := openLine(ctx, p, r.Seed, sim, w.Hardware(sim.twin.Hardware()), w)
		if err != nil {
			return nil, err
		}
		l.scenario, l.bench, l.at = sc, w.Bench(l.rig), w.At
		return &taktLine{l, w}, nil
	}
}

// Run implements population.Simulator.
func (l *taktLine) Run(ctx context.Context, u population.Unit) (population.Outcome, error) {
	l.watch.Begin()
	run, err := l.take(ctx, u.Serial, nil, faultsOf(u)...)
	return population.Outcome{Run: run, Kept: l.watch.End()}, err
}

// Close implements population.Simulator.
func (l *taktLine) Close() error { return l.rig.Close() }
