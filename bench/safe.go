package bench

import (
	"context"
	"errors"
	"time"
)

// dropped is added to the longest gap between heartbeats before the monostable
// is trusted to have dropped the coils: 5 ms. Own choice.
const dropped = 5 * time.Millisecond

// Do runs f so that every way out of it, a panic included, ends in Safe. What
// Safe could not confirm is joined to f's error.
func (r *Rig) Do(f func() error) (err error) {
	defer func() {
		if unsafe := r.Safe(); unsafe != nil {
			err = errors.Join(err, unsafe)
		}
	}()
	return f()
}

// Safe leads to isolated under its own deadline and confirms it by measuring
// VBUS below Safe0V. It works when chips are gone, and twice. What could not
// be confirmed comes back as *Fault, several of them joined. One that wraps
// ErrHeld says that every coil is proven off and VBUS is up all the same.
func (r *Rig) Safe() error {
	quiet := r.guard.quiet
	r.guard.quiet = true
	defer func() { r.guard.quiet = quiet }()
	clear(r.passed)

	errs := r.release()
	if r.closed {
		return errors.Join(errs...)
	}
	// The waits end by the rig's clock, never by the caller's context.
	ctx := context.Background()
	still := r.bank.open(r.bank.all())
	if len(errs) > 0 {
		// Only the monostable can still take these coils off.
		r.guard.heart.stop(&Fault{What: "prove the coils off", Thing: r.wiring.Nest.Name,
			Hint: "Mend the nest; the others can go on when they are opened again.", Err: errors.Join(errs...)})
		r.guard.leave()
		r.guard.lost, r.guard.armed = true, false
		still += r.guard.heart.gap + dropped
		if r.guard.err == nil {
			r.guard.err = errs[0]
		}
	}
	if err := r.guard.Sleep(ctx, still); err != nil {
		errs = append(errs, &Fault{What: "wait for the contacts", Thing: "clock", Hint: "Take the coil supply away.", Err: err})
	}
	held, err := r.awaitEmpty(ctx)
	switch {
	case err != nil:
		errs = append(errs, &Fault{What: "confirm by measuring that VBUS is off", Thing: r.vbus.spec.Name,
			Hint: "Measure VBUS by hand before you touch the unit.", Err: err})
	case held != nil:
		errs = append(errs, held)
	}
	r.state = r.isolated
	result := errors.Join(errs...)
	r.notice("safe", result)
	return result
}

// release takes all coils off: the semiconductors first, so that no contact
// opens under current, then everything. It goes on whatever fails.
func (r *Rig) release() []error {
	before := r.bank.now
	// A failure here shows again in what follows, which tries every chip.
	if r.bank.write(r.bank.now.without(r.bank.solid)) == nil && before != r.bank.now {
		_ = r.guard.Sleep(context.Background(), r.bank.open(before.and(r.bank.solid)))
	}
	errs := r.bank.off()
	r.report()
	return errs
}

// drop is what the guard does when it trips: no waiting, no measuring. What
// could not be proven off here is proven, or reported, by Safe.
func (r *Rig) drop() {
	_ = r.bank.write(r.bank.now.without(r.bank.solid))
	r.bank.off()
	r.report()
	r.state = r.isolated
}

// Close makes the rig safe, stops the heartbeat and halts the chips. Close
// twice is fine; everything else is refused afterwards.
func (r *Rig) Close() error {
	if r.closed {
		return nil
	}
	errs := []error{r.Safe()}
	r.closed = true
	r.guard.leave()
	r.guard.armed, r.guard.quiet = false, true
	for _, m := range r.meters {
		errs = append(errs, m.dev.Halt())
	}
	for _, a := range r.converters {
		errs = append(errs, a.dev.Halt())
	}
	for _, t := range r.thermometers {
		errs = append(errs, t.dev.Halt())
	}
	return errors.Join(errs...)
}
