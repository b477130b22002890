package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/pflag"

	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/calibration"
)

// Which calibration a run stands on, apart from an id.
const (
	standLatest = "latest"
	standNone   = "none"
)

// standing says which calibration a run stands on.
type standing struct {
	id string
	// without is the reason to run without one in force.
	without string
}

func (f *standing) flags(fs *pflag.FlagSet) {
	fs.StringVar(&f.id, "calibration", "", "`id` of the calibration to stand on, latest, or none (default: latest on hardware, none on the twin)")
	fs.StringVar(&f.without, "uncalibrated", "", "`reason` to run without a calibration in force; the record says so")
}

// errNoCalibration, errExpired, errOther and errClock are why a run on hardware
// is refused.
var (
	errNoCalibration = errors.New("no calibration of this bench in the ledger")
	errExpired       = errors.New("the calibration is expired")
	errOther         = errors.New("the calibration was made with another wiring file")
	errClock         = errors.New("the computer's clock cannot be trusted")
)

// choose finds the calibration in the ledger and puts it in force. Production
// needs one that is in force; a run on the twin needs none unless it names one.
func (f *standing) choose(ctx context.Context, s *station) error {
	latest, err := s.trustClock(ctx)
	if err != nil {
		return err
	}
	if f.without != "" && f.id != "" {
		return usage("give one of the two", "--uncalibrated and --calibration contradict each other")
	}
	if f.without != "" {
		s.bench.Uncalibrated = f.without
		return nil
	}
	real := s.bench.Kind == record.Hardware
	if f.id == standNone && real {
		return usage("--uncalibrated REASON", "a run on hardware without a calibration needs a reason")
	}
	if f.id == standNone || f.id == "" && !real {
		return nil
	}
	c, err := f.find(ctx, s)
	if err != nil {
		return err
	}
	if err := inForce(c, s.papers.rig.File.SHA256, s.now(), latest); err != nil {
		return refused(err, "sinkproof rig calibrate makes a new one; --uncalibrated REASON runs without, and the record says so")
	}
	s.papers.calibration, s.bench.Calibration = calibration.InForce(c), c.ID
	return nil
}

// firstDay is when the program was first made: a clock that shows less has lost
// its battery.
func firstDay() time.Time { return time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC) }

// trustClock refuses a computer whose clock lies behind the ledger or before the
// program was made: whatever is due, and every date in a record, would be worth
// nothing. It returns the latest instant that the ledger knows of, the zero Time
// on the twin, which begins every program on the same morning.
func (s *station) trustClock(ctx context.Context) (time.Time, error) {
	if s.bench.Kind != record.Hardware {
		return time.Time{}, nil
	}
	latest, err := s.ledger.Latest(ctx)
	if err != nil {
		return latest, fmt.Errorf("look at the clock: %w", err)
	}
	now := s.now()
	switch {
	case now.Before(firstDay()):
		return latest, refused(fmt.Errorf("it shows %s, before this program was made: %w", record.Instant(now), errClock), setClock)
	case now.Before(latest):
		return latest, refused(fmt.Errorf("it shows %s, the ledger has an entry of %s: %w", record.Instant(now), record.Instant(latest), errClock),
			setClock+"; where the clock is right and the entry is wrong, an engineer says so with sinkproof rig clock")
	}
	return latest, nil
}

// setClock is the next step of a clock that cannot be trusted.
const setClock = "set the clock of the computer"

// find is the calibration that was named, or the latest.
func (f *standing) find(ctx context.Context, s *station) (record.Calibration, error) {
	of := s.papers.calibrated(s.bench)
	list, err := s.ledger.Calibrations(ctx, of)
	if err != nil {
		return record.Calibration{}, fmt.Errorf("look for the calibration: %w", err)
	}
	if f.id == "" || f.id == standLatest {
		if len(list) == 0 {
			return record.Calibration{}, refused(fmt.Errorf("rig %s: %w", of.Name, errNoCalibration),
				"sinkproof rig calibrate makes one; --uncalibrated REASON runs without, and the record says so")
		}
		return list[len(list)-1], nil
	}
	for _, c := range list {
		if c.ID == f.id {
			return c, nil
		}
	}
	return record.Calibration{}, usage("sinkproof rig calibrate prints the id", "--calibration %s: the ledger holds no such calibration of rig %s", f.id, of.Name)
}

// inForce says why a calibration is not in force at an instant. latest is the
// latest instant that the ledger knows of: a clock behind it was set back, and
// then nothing can be said about a date.
func inForce(c record.Calibration, wiring string, now, latest time.Time) error {
	due, err := time.Parse(time.RFC3339Nano, c.Due)
	switch {
	case err != nil:
		return fmt.Errorf("calibration %s: due date: %w", c.ID, err)
	case now.Before(latest):
		return fmt.Errorf("it shows %s, the ledger has an entry of %s: %w", record.Instant(now), record.Instant(latest), errClock)
	case !now.Before(due):
		return fmt.Errorf("calibration %s was due %s: %w", c.ID, c.Due, errExpired)
	case c.Wiring.SHA256 != wiring:
		return fmt.Errorf("calibration %s: %w", c.ID, errOther)
	}
	return nil
}
