package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/bench"
	"sinkproof/fixtures/product"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// supplierNest is one nest of the act: a twin of its own, whose product is what
// the supplier of the next board makes.
type supplierNest struct {
	sim     *simulated
	product *product.Product
	rig     *bench.Rig
}

// newSupplierNest opens the rig of a nest.
func newSupplierNest(ctx context.Context, p *papers, seed uint64) (*supplierNest, error) {
	made := *p.product
	own := *p
	own.product = &made
	sim, err := newSimulated(&own, seed, false)
	if err != nil {
		return nil, err
	}
	rig, err := bench.Open(ctx, p.rig.Rig, sim.twin.Hardware(), bench.Options{Current: p.product.Ceiling.Current, Temperature: p.product.Ceiling.Temperature})
	if err != nil {
		return nil, benchTrouble(err)
	}
	return &supplierNest{sim: sim, product: &made, rig: rig}, nil
}

// runSuppliers draws the order of the boards and runs them in it. Days begin at six; a board follows the one before.
func (f *demoFlags) runSuppliers(c *cobra.Command, p *papers, made []supplied) (err error) {
	ctx := c.Context()
	s := &station{papers: p, screen: newScreen(c.ErrOrStderr()), out: f.out}
	var nests []*supplierNest
	defer func() {
		for _, n := range nests {
			err = errors.Join(err, n.rig.Close())
		}
	}()
	for i := range supplierNests {
		// The second nest is drawn apart, as another piece of the same rig.
		n, err := newSupplierNest(ctx, p, f.seed+uint64(i)<<32)
		if err != nil {
			return err
		}
		nests = append(nests, n)
	}
	if s.identity, err = twinIdentity(p, f.seed, nests[0].sim.twin.Hardware().Clock); err != nil {
		return err
	}
	if s.findings, err = newDiagnostician(ctx, p, findingsAuto, s.screen); err != nil {
		return err
	}
	if err := s.openLedger(ctx, filepath.Join(f.out, "ledger.db")); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	plan, err := f.supplierOrder(ctx, s, made)
	if err != nil {
		return err
	}
	bar := newProgressBar(s.screen, len(plan))
	defer bar.end()
	at, day, attempts := time.Time{}, -1, map[string]int{}
	for i, board := range plan {
		if board.day != day {
			day = board.day
			at = f.firstShift(day)
		}
		attempts[board.serial]++
		took, err := f.runBoard(ctx, s, nests[board.nest-1], board, attempts[board.serial], at)
		if err != nil {
			return fmt.Errorf("board %s: %w", board.serial, err)
		}
		at = at.Add(took)
		bar.done(i + 1)
	}
	return nil
}

// changeover is how long a board takes out of and into a nest.
const changeover = 5 * time.Second

// runBoard runs one board and keeps its record, without waveforms: 600 of these
// records would fill 200 MB. It returns how long the nest was taken.
func (f *demoFlags) runBoard(ctx context.Context, s *station, n *supplierNest, board supplied, attempt int, at time.Time) (time.Duration, error) {
	id, err := record.NewID(at, s.random(board.serial, attempt))
	if err != nil {
		return 0, fmt.Errorf("name the run: %w", err)
	}
	opening, _, err := s.ledger.OpenRun(ctx, record.Opening{
		ID: id, Serial: board.serial, Product: s.papers.product.Name, Lot: board.lot, Supplier: board.supplier, Attempt: attempt,
		Bench: s.bench, Nest: board.nest, Started: record.Instant(at), Files: s.papers.files, Decision: s.papers.scenario.Decision,
	})
	if err != nil {
		return 0, err
	}
	*n.product = f.factory(s.papers.product, board)
	n.sim.truth[board.serial] = board.faults
	run, err := scenarios.Run(ctx, scenarios.Job{
		Opening: opening, Scenario: s.papers.scenario, Bench: n.rig, Handler: n.sim,
		NoProof: "the demonstration keeps to its suppliers",
	})
	n.sim.twin.Unseat()
	if err != nil {
		return 0, err
	}
	run.Waveforms = nil
	if _, err := s.ledger.CloseRun(context.WithoutCancel(ctx), s.findings.attach(run)); err != nil {
		return 0, err
	}
	return time.Duration(run.DurationUS)*time.Microsecond + changeover, nil
}
