package main

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/twin"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// simulated is a twin with somebody who puts units into its nest.
type simulated struct {
	twin *twin.Twin
	// truth says what a serial was given; a serial that is not there is good.
	truth map[string][]twin.Fault
}

func (s *simulated) Seat(_ context.Context, serial string) error {
	return s.twin.Seat(serial, s.truth[serial]...)
}

func (s *simulated) Unseat(context.Context, string, string) error {
	s.twin.Unseat()
	return nil
}

// Reseat plugs the same unit again: it is drawn from its serial and comes out
// the same.
func (s *simulated) Reseat(ctx context.Context, serial, _ string) error {
	s.twin.Unseat()
	return s.Seat(ctx, serial)
}

func (s *simulated) SeatReceptacle(context.Context, string) error { return s.twin.SeatCheck() }

func (s *simulated) TakeReceptacle(context.Context) error {
	s.twin.Unseat()
	return nil
}

// attend has nothing to do: in virtual time the hands are quick.
func (s *simulated) attend(attended) {}

// newSimulated returns a twin for the papers.
func newSimulated(p *papers, seed uint64, realtime bool) (*simulated, error) {
	return newSimulatedIn(p, seed, realtime, nil)
}

// newSimulatedIn is newSimulated in the memory of a twin that was retired; nil is
// none.
func newSimulatedIn(p *papers, seed uint64, realtime bool, m *twin.Memory) (*simulated, error) {
	c := twin.Config{Wiring: p.rig.Rig, Product: p.product, Seed: seed, Memory: m}
	if n := p.rig.Rig.Nest.Number; n > 1 {
		c.Seed += uint64(n - 1) // as twin.NewRig draws it
	}
	if realtime {
		c.Pace = pacer()
	}
	t, err := twin.New(c)
	if err != nil {
		return nil, fmt.Errorf("simulate the rig %s: %w", p.rig.Rig.Name, err)
	}
	return &simulated{twin: t, truth: map[string][]twin.Fault{}}, nil
}

// pacer makes virtual time pass no faster than real time.
func pacer() func(time.Duration) {
	start := time.Now()
	return func(at time.Duration) {
		time.Sleep(time.Until(start.Add(at)))
	}
}

// twinIdentity is who a simulated station is: everything in it comes from the
// seed, nothing from the computer.
func twinIdentity(p *papers, seed uint64, clock bench.Clock) (identity, error) {
	key, err := record.GenerateKey(stream(seed, "key"))
	if err != nil {
		return identity{}, fmt.Errorf("make the twin's key: %w", err)
	}
	morning := firstMorning(seed)
	return identity{
		bench: record.Bench{Name: p.rig.Rig.Name, Kind: record.Twin, Program: version},
		key:   key,
		now:   func() time.Time { return morning.Add(clock.Now()) },
		random: func(serial string, attempt int) io.Reader {
			return stream(seed, "id", serial, strconv.Itoa(attempt))
		},
	}, nil
}

// tryBench opens the rig once and closes it, so that a bench that cannot work
// is known before a run is begun on it.
func tryBench(ctx context.Context, p *papers, hw bench.Hardware) error {
	rig, _, err := openBench(ctx, p, hw)
	if err != nil {
		return err
	}
	if err := rig.Close(); err != nil {
		return benchTrouble(err)
	}
	return nil
}

// openBench opens the rig on what the computer, real or simulated, offers.
func openBench(ctx context.Context, p *papers, hw bench.Hardware) (*bench.Rig, *scenarios.RelayLog, error) {
	log := &scenarios.RelayLog{}
	rig, err := bench.Open(ctx, p.rig.Rig, hw, bench.Options{
		Current: p.product.Ceiling.Current, Temperature: p.product.Ceiling.Temperature, Observer: log,
		Calibration: p.calibration,
	})
	if err != nil {
		return nil, nil, benchTrouble(err)
	}
	return rig, log, nil
}
