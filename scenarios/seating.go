package scenarios

import (
	"context"
	"fmt"
	"slices"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// probe shows who is seated. Where nothing is, the unit is plugged once more
// before the run gives up.
func (r *run) probe(ctx context.Context, s Probe) error {
	p, err := r.b.Probe(ctx)
	if err != nil {
		return err
	}
	if !p.Present && !r.reseated {
		why := "the probe finds nothing seated; plug the unit again"
		r.remark("re-seat", why)
		r.reseated = true
		if err := r.replug(ctx, why); err != nil {
			return err
		}
		if p, err = r.b.Probe(ctx); err != nil {
			return err
		}
	}
	r.flushRelays()
	if !p.Present {
		r.over = "it could not be shown that a unit is seated"
	}
	return r.presence(s, p)
}

// presence keeps what the probe saw as readings and waveforms. A load lifts
// VBUS before the larger current is driven; a bound that assumes a start from
// zero does not hold then.
func (r *run) presence(s Probe, p bench.Presence) error {
	for _, part := range []struct {
		name    string
		reading bench.Reading
	}{{"capacitance", p.Capacitance}, {"level", p.Level}, {"top", topOf(p)}} {
		x := part.reading
		if part.name == "capacitance" && p.Loaded && x.Value.Bound == quantity.AtMost {
			r.results[s.Name+".capacitance"] = result{missing: "a load on VBUS hides it"}
			continue
		}
		if err := r.store(s.Name+"."+part.name, result{value: x.Value}, x.Channel, x.At); err != nil {
			return err
		}
	}
	for i, w := range p.Waves {
		name := fmt.Sprintf("%s-%d", s.Name, i+1)
		if err := r.wave(name, fmt.Sprintf("%s, part %d", s.Title, i+1), w, nil, nil); err != nil {
			return err
		}
	}
	return nil
}

// topOf is VBUS at the very end of the last rise. The level of a presence is a
// mean, which says little about a unit that rises within a few milliseconds;
// its systematic contributions hold for a single sample all the same.
func topOf(p bench.Presence) bench.Reading {
	x := p.Level
	if len(p.Waves) < 2 {
		return x
	}
	rise := p.Waves[len(p.Waves)-2].Samples
	if len(rise) == 0 {
		return x
	}
	last := rise[len(rise)-1]
	x.At, x.Value.SI = last.At, last.Value
	x.Value.Parts = nil
	for _, c := range p.Level.Value.Parts {
		if c.DOF == 0 {
			x.Value.Parts = append(x.Value.Parts, c)
		}
	}
	return x
}

// replug isolates the rig and has the unit plugged once more.
func (r *run) replug(ctx context.Context, why string) error {
	if err := r.b.Safe(); err != nil {
		return err
	}
	if err := r.job.Handler.Reseat(ctx, r.job.Opening.Serial, why); err != nil {
		return fmt.Errorf("re-seat %s: %w", r.job.Opening.Serial, err)
	}
	return nil
}

// wantsReseat tells whether an open answer may be the plug's. It is asked once
// in a run; the second reading then decides.
func (r *run) wantsReseat(s Reseat) bool {
	if r.reseated {
		return false
	}
	t, err := decide(s.When, r)
	r.reseated = err == nil && t == yes
	return r.reseated
}

// plugAgain re-seats the unit and forgets what the stage has found so far;
// what was read stays in the record under a name that says so.
func (r *run) plugAgain(ctx context.Context, st Stage) error {
	r.setAside(st)
	if err := r.replug(ctx, "an open answer may be the plug's; plug the unit again"); err != nil {
		return err
	}
	p, err := r.b.Probe(ctx)
	if err != nil {
		return err
	}
	if !p.Present {
		r.over = "after the re-seat it could not be shown that a unit is seated"
		return nil
	}
	if r.powered {
		r.b.Pass(probeCondition)
	}
	return nil
}

// setAside renames the readings of a stage that is taken again, and takes its
// answers back.
func (r *run) setAside(st Stage) {
	var kept []record.Event
	for _, e := range r.held {
		switch e := e.(type) {
		case record.Read:
			e.Name += " before the re-seat"
			kept = append(kept, e)
		case record.Captured:
			e.Name += " before the re-seat"
			e.Title += ", before the re-seat"
			kept = append(kept, e)
		case record.Answered:
		default:
			kept = append(kept, e)
		}
	}
	r.held = kept
	for _, c := range st.checks() {
		if x, ok := r.out.byKey[c.Name]; ok {
			delete(r.out.byKey, c.Name)
			r.out.list = slices.DeleteFunc(r.out.list, func(y *outcome) bool { return y == x })
		}
	}
}
