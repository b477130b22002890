package main

import (
	"context"
	"errors"
	"fmt"
	"syscall"
	"time"

	"github.com/coreos/go-systemd/v22/daemon"
	"github.com/spf13/cobra"

	"sinkproof/bench"
	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
)

// lookEvery is how often an idle rig is looked at: 5 s. A run waits for at
// most one look, which takes a few tenths of a second. Own choice.
const lookEvery = 5 * time.Second

// guardUse is how the guard holds a rig while it looks: others wait for it.
const guardUse = "sinkproof guard"

// guardFlags are the flags of sinkproof rig guard.
type guardFlags struct {
	rig   string
	every time.Duration
	once  bool
}

func newGuard() *cobra.Command {
	var f guardFlags
	c := described(&cobra.Command{
		Use:   "guard --rig FILE",
		Short: "Keeps an idle rig safe, as a service",
		Long: `Looks after a rig that nobody uses: at the start and every few seconds it claims
the rig, writes every coil register off, reads it back, confirms by measuring
that VBUS is off, and lets go. It never gives a heartbeat or an arm pulse, so
that it cannot close a contact. While a run holds the rig it waits.

What a program that was killed has left in the coil registers is gone within
one look. As a service it tells systemd when it is ready, what it sees, and that
it is alive. With a shipped rig it guards the twin.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig guard --rig /etc/sinkproof/rig.hcl
  sinkproof rig guard --rig bench.hcl --once`)
	c.Flags().StringVar(&f.rig, "rig", defaultRig, "wiring `file`, or the name of a shipped rig")
	c.Flags().DurationVar(&f.every, "every", lookEvery, "`time` between two looks")
	c.Flags().BoolVar(&f.once, "once", false, "look once and end")
	return c
}

func (f *guardFlags) run(c *cobra.Command) error {
	if f.every <= 0 {
		return usage("--every 5s", "--every %s is no time to wait", f.every)
	}
	rig, err := loadRig(f.rig, c.ErrOrStderr())
	if err != nil {
		return err
	}
	w := &watchman{every: f.every, screen: newScreen(c.ErrOrStderr())}
	if exists(f.rig) {
		w.look = func(ctx context.Context) error { return lookAtComputer(ctx, rig.Rig) }
	} else if w.look, err = lookAtTwin(rig); err != nil {
		return err
	}
	if f.once {
		return w.once(c.Context())
	}
	// A service manager that wants a sign of life more often gets it.
	limit, err := daemon.SdWatchdogEnabled(false)
	if err != nil {
		return usage("unset WATCHDOG_USEC, or let systemd set it", "read the watchdog time of the service: %w", err)
	}
	if limit > 0 {
		w.every = min(w.every, limit/3)
	}
	return w.keep(c.Context())
}

// lookAtComputer claims the rig for one look and lets go again.
func lookAtComputer(ctx context.Context, w *wiring.Rig) error {
	pc, err := openComputer(ctx, w, guardUse)
	if err != nil {
		return err
	}
	return errors.Join(secure(ctx, w, pc.Hardware), pc.Close())
}

// secure makes every nest of an idle rig safe. One that cannot be made safe goes
// before one whose VBUS is only held up.
func secure(ctx context.Context, w *wiring.Rig, hw bench.Hardware) error {
	var held, unsafe []error
	for _, v := range w.ByNest() {
		err := bench.Secure(ctx, v, hw)
		if err != nil && v.Nest.Number > 0 {
			err = fmt.Errorf("%s: %w", v.Nest.Name, err)
		}
		switch {
		case errors.Is(err, bench.ErrHeld):
			held = append(held, err)
		case err != nil:
			unsafe = append(unsafe, err)
		}
	}
	if len(unsafe) > 0 {
		return errors.Join(unsafe...)
	}
	return errors.Join(held...)
}

// lookAtTwin returns a look at a simulated rig with an empty nest.
func lookAtTwin(rig *fixtures.Fixture) (func(context.Context) error, error) {
	prod, _, err := product.Load(defaultProduct)
	if err != nil {
		return nil, fmt.Errorf("product of the twin: %w", err)
	}
	sim, err := twin.NewRig(twin.Config{Wiring: rig.Rig, Product: prod, Seed: 1})
	if err != nil {
		return nil, fmt.Errorf("simulate the rig %s: %w", rig.Rig.Name, err)
	}
	return func(ctx context.Context) error { return secure(ctx, rig.Rig, sim.Hardware()) }, nil
}

// watchman looks at a rig again and again.
type watchman struct {
	look   func(context.Context) error
	every  time.Duration
	screen *screen
	last   string // what was told last
	ready  bool
}

// once looks once.
func (w *watchman) once(ctx context.Context) error {
	status, err := w.see(ctx)
	if err == nil {
		w.tell(status)
	}
	return err
}

// keep looks until it is told to end. It gives up on a bench fault, so that
// the service manager sees it and tries again within its limits.
func (w *watchman) keep(ctx context.Context) error {
	defer func() { _, _ = daemon.SdNotify(false, daemon.SdNotifyStopping) }()
	for ctx.Err() == nil {
		status, err := w.see(ctx)
		if ctx.Err() != nil {
			break
		}
		if err != nil {
			w.notify("STATUS=" + err.Error())
			return err
		}
		w.tell(status)
		state := daemon.SdNotifyWatchdog + "\nSTATUS=" + status
		if !w.ready {
			state, w.ready = daemon.SdNotifyReady+"\n"+state, true
		}
		w.notify(state)
		select {
		case <-ctx.Done():
		case <-time.After(w.every):
		}
	}
	return nil
}

// see looks once and says in words what it saw. A rig that somebody else holds
// and a VBUS that is up with every coil proven off are no reason to end.
func (w *watchman) see(ctx context.Context) (string, error) {
	err := w.look(ctx)
	switch {
	case err == nil:
		return "safe: every coil off and read back, VBUS measured off", nil
	case errors.Is(err, syscall.EBUSY):
		return "in use: " + err.Error(), nil
	case errors.Is(err, bench.ErrHeld):
		return "every coil off and read back, but VBUS is up: take the unit out, then look for welded contacts", nil
	}
	var o *outcome
	if errors.As(err, &o) {
		return "", err
	}
	return "", benchTrouble(err)
}

// tell shows what has changed.
func (w *watchman) tell(status string) {
	if status != w.last {
		w.screen.line("%s", status)
		w.last = status
	}
}

// notify tells the service manager, where there is one. One that cannot be
// told ends the service by its watchdog.
func (w *watchman) notify(state string) {
	if _, err := daemon.SdNotify(false, state); err != nil {
		w.screen.line("tell the service manager: %v", err)
	}
}
