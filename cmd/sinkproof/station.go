package main

import (
	"cmp"
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/reports/ledger"
	"sinkproof/reports/page"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/proving"
)

// station joins a rig, real or simulated, with a scenario and a ledger, and
// takes one unit after the other.
type station struct {
	papers   *papers
	hardware bench.Hardware
	handler  handler
	ledger   *ledger.Ledger
	screen   *screen
	identity
	// findings say what is most likely wrong.
	findings diagnostician
	// proof proves the bench before a unit is failed; made at the first need.
	proof *proving.Proof
	// noProof is why it is not proved, noReceptacle why the pins of the plug are not.
	noProof, noReceptacle string
	// given are values that the scenario asks for and cannot read.
	given map[string]quantity.Quantity
	// out is the folder of records and reports.
	out string
	// beside, when set, does what touches a disk or computes for long while the
	// loop goes on that other nests live on; this one is shut or isolated then.
	beside func(context.Context, func() error) error
}

// aside does f beside the loop, where there are others on it.
func (s *station) aside(ctx context.Context, f func() error) error {
	if s.beside == nil {
		return f()
	}
	return s.beside(ctx, f)
}

// handler moves units and the check receptacle, and is told of the rig that it must
// keep alive while a person takes their time.
type handler interface {
	scenarios.Handler
	scenarios.Keeper
	attend(rig attended)
}

// attended is what lets time pass while somebody is waited for: a rig, or the clock
// alone where the rig is shut.
type attended interface {
	Pause(ctx context.Context, d time.Duration) error
}

// shut is a rig that is shut: nothing has to be kept alive.
type shut struct{ clock bench.Clock }

func (s shut) Pause(ctx context.Context, d time.Duration) error { return s.clock.Sleep(ctx, d) }

// identity is what a station signs with and how its runs are named.
type identity struct {
	bench record.Bench
	key   ed25519.PrivateKey
	// now is the wall clock: the computer's, or on the twin one made of the
	// virtual clock, so that the same seed gives the same records.
	now func() time.Time
	// random gives the randomness for the id of a run.
	random func(serial string, attempt int) io.Reader
}

// unit is what is known of a unit before its run.
type unit struct {
	serial, lot, supplier, allowedBy string
}

// done is a finished run with its proof and the files that were written, as
// paths relative to the output folder.
type done struct {
	run               record.Run
	entry             record.Entry
	record, html, pdf string
}

// judge takes one unit from its serial to its reports. The order is that of
// the evidence: the opening is committed before a coil moves, the record
// before a page shows it. The rig is opened in between, since nobody beats the
// heart of its coil supply while a disk is written.
func (s *station) judge(ctx context.Context, u unit) (done, error) {
	var opening record.Opening
	err := s.aside(ctx, func() (err error) {
		opening, err = s.open(ctx, u)
		return err
	})
	if err != nil {
		return done{}, err
	}
	// The record is committed whatever became of the run and of the context:
	// an interrupted person still must find the answer that was reached.
	keep := context.WithoutCancel(ctx)
	rig, relays, err := openBench(ctx, s.papers, s.hardware)
	if err != nil {
		kept := s.aside(keep, func() error {
			_, kept := s.ledger.InterruptRun(keep, opening.ID, "the rig could not be opened: "+err.Error())
			return kept
		})
		return done{}, errors.Join(err, kept)
	}
	s.handler.attend(rig)
	run, runErr := s.watched(ctx, rig, relays, opening, s.prover(rig, relays))
	if err := rig.Close(); err != nil && run.Verdict != record.None {
		// A bench that failed under the run said so in the record already.
		runErr = errors.Join(runErr, benchTrouble(err))
	}
	var d done
	err = s.aside(keep, func() (err error) {
		d, err = s.keep(keep, s.findings.attach(run))
		return err
	})
	if d.run.ID == "" { // nothing was kept
		return d, errors.Join(err, runErr)
	}
	return d, errors.Join(runErr, err)
}

// open commits the opening of a run.
func (s *station) open(ctx context.Context, u unit) (record.Opening, error) {
	standing, err := s.ledger.Attempts(ctx, u.serial)
	if err != nil {
		return record.Opening{}, fmt.Errorf("look up %s: %w", u.serial, err)
	}
	opening, err := s.opening(u, standing.Runs+1)
	if err != nil {
		return opening, err
	}
	opening, _, err = s.ledger.OpenRun(ctx, opening)
	if err != nil {
		return opening, openingRefused(u, err)
	}
	return opening, nil
}

// keep commits the record of a run and writes its files.
func (s *station) keep(ctx context.Context, run record.Run) (done, error) {
	entry, err := s.ledger.CloseRun(ctx, run)
	if err != nil {
		return done{}, noJudge(fmt.Errorf("commit the record of %s: %w", run.Serial, err),
			"mend what the ledger complains of (room on the disk, the right to write), then run the unit again: the next start closes this run as interrupted")
	}
	s.screen.closed(run)
	d, err := s.publish(ctx, run, entry)
	if err != nil {
		err = noJudge(err, "the record is safe in the ledger, only its files are missing: mend the output folder")
	}
	return d, err
}

func (s *station) opening(u unit, attempt int) (record.Opening, error) {
	if err := record.ValidSerial(u.serial); err != nil {
		return record.Opening{}, usage("a serial is 1 to 64 printable ASCII characters", "%w", err)
	}
	at := s.now()
	id, err := record.NewID(at, s.random(u.serial, attempt))
	if err != nil {
		return record.Opening{}, fmt.Errorf("name the run of %s: %w", u.serial, err)
	}
	return record.Opening{
		ID: id, Serial: u.serial, Product: s.papers.product.Name, Lot: u.lot, Supplier: u.supplier,
		Attempt: attempt, AllowedBy: u.allowedBy, Bench: s.bench, Nest: s.papers.rig.Rig.Nest.Number, Started: record.Instant(at), Files: s.papers.files,
		Decision: s.papers.scenario.Decision,
	}, nil
}

func openingRefused(u unit, err error) error {
	switch {
	case errors.Is(err, ledger.ErrAttempts):
		return refused(err, fmt.Sprintf("look at sinkproof unit %s; an engineer allows one more run with --allowed-by NAME", u.serial))
	case errors.Is(err, ledger.ErrGolden):
		return refused(err, "sinkproof rig golden check runs golden units")
	case errors.Is(err, record.ErrInvalid):
		return usage("", "%w", err)
	}
	return refused(fmt.Errorf("open the run of %s: %w", u.serial, err), "mend what the ledger complains of first: room on the disk, the right to write")
}

// prover has the bench proved after a run on a rig that failed a unit; nil where the
// rig cannot, or shall not.
func (s *station) prover(rig *bench.Rig, relays *scenarios.RelayLog) scenarios.Prover {
	if s.unproved() != "" {
		return nil
	}
	if s.proof == nil {
		s.proof = proving.NewProof(s.papers.rig.Rig)
		s.proof.Aside = s.beside
	}
	return proving.Prover{Proof: s.proof, Rig: rig, Hardware: s.hardware, Observer: relays}
}

// unproved is why the bench is not proved before a unit is failed.
func (s *station) unproved() string {
	if itself, _ := proving.Provable(s.papers.rig.Rig); itself != nil {
		return cmp.Or(s.noProof, itself.Error())
	}
	return s.noProof
}

// pinsUnproved is why the pins of the plug are not proved after it.
func (s *station) pinsUnproved() string {
	if _, pins := proving.Provable(s.papers.rig.Rig); pins != nil {
		return cmp.Or(s.noReceptacle, pins.Error())
	}
	return s.noReceptacle
}

// keeper has the check receptacle seated while the rig is shut; nil where that cannot
// be, or shall not.
func (s *station) keeper() scenarios.Keeper {
	if s.pinsUnproved() != "" {
		return nil
	}
	return whileShut{s.handler, shut{s.hardware.Clock}}
}

// whileShut are hands at a rig that is shut.
type whileShut struct {
	hands handler
	rig   shut
}

func (w whileShut) SeatReceptacle(ctx context.Context, why string) error {
	w.hands.attend(w.rig)
	return w.hands.SeatReceptacle(ctx, why)
}

func (w whileShut) TakeReceptacle(ctx context.Context) error {
	w.hands.attend(w.rig)
	return w.hands.TakeReceptacle(ctx)
}

// watched runs the scenario while the screen follows. The prover may be nil: a
// unit is then failed without a proof of the bench.
func (s *station) watched(ctx context.Context, rig *bench.Rig, relays *scenarios.RelayLog, opening record.Opening, prover scenarios.Prover) (record.Run, error) {
	var feed record.Feed
	wait := s.screen.watch(context.WithoutCancel(ctx), opening.Serial, &feed)
	run, err := scenarios.Run(ctx, scenarios.Job{
		Opening: opening, Scenario: s.papers.scenario, Bench: rig,
		Handler: s.handler, Relays: relays, Given: s.given, Emit: feed.Emit, Prover: prover, NoProof: s.unproved(),
		Keeper: s.keeper(), NoReceptacle: s.pinsUnproved(),
	})
	feed.Close()
	shown := s.aside(context.WithoutCancel(ctx), func() error { wait(); return nil })
	return run, errors.Join(err, shown)
}

// publish writes the record and its reports. Each file is whole or absent.
func (s *station) publish(ctx context.Context, run record.Run, entry record.Entry) (done, error) {
	folder := runFolder(run.Serial, run.Attempt)
	d := done{
		run: run, entry: entry,
		record: filepath.Join(folder, "record.json"),
		html:   filepath.Join(folder, "report.html"),
		pdf:    filepath.Join(folder, "report.pdf"),
	}
	report := page.NewReport(run, page.Proof{Hash: entry.Hash, Head: entry.Hash, Seq: entry.Seq, Key: entry.Key})
	html, err := report.HTML()
	if err != nil {
		return d, err
	}
	pdf, err := report.PDF()
	if err != nil {
		return d, err
	}
	for _, f := range []struct {
		path string
		data []byte
	}{{d.record, entry.Body}, {d.html, html}, {d.pdf, pdf}} {
		if err := writeBelow(s.out, f.path, f.data); err != nil {
			return d, err
		}
	}
	return d, nil
}

// exitOf is the outcome of one run.
func exitOf(run record.Run) error {
	switch run.Verdict {
	case record.Pass:
		return nil
	case record.Fail:
		return judgedBad()
	}
	hint := ""
	if run.Fault != nil {
		hint = run.Fault.Hint
	}
	return noJudge(fmt.Errorf("no verdict on %s: %s", run.Serial, run.Reason), hint)
}
