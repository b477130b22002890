package main

import (
	"bufio"
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2creg"
	"periph.io/x/host/v3"

	"sinkproof/bench"
	"sinkproof/bench/linux"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

// computer is what a real computer offers to a rig.
type computer struct {
	bench.Hardware
	linux *linux.Computer
	buses []i2c.BusCloser
}

// openComputer finds the buses and lines of the wiring file on this computer
// and claims the rig for a program that goes by the name of use: the kernel
// gives the heartbeat line to one program at a time, and takes it back however
// that program ends.
func openComputer(ctx context.Context, w *wiring.Rig, use string) (*computer, error) {
	k, err := startLinux(linux.Options{
		Consumer: fmt.Sprintf("%s %d", use, os.Getpid()),
		// What took longer than the heartbeat may pause has cost the coils.
		Deadline: time.Duration(w.Guard.BeatGap.SI * float64(time.Second)),
	})
	if err != nil {
		return nil, err
	}
	c := &computer{linux: k, Hardware: bench.Hardware{
		Buses: map[string]i2c.Bus{}, Lines: map[string]gpio.PinIO{}, Clock: newWallClock(),
	}}
	if err := c.take(ctx, w); err != nil {
		return nil, errors.Join(err, c.Close())
	}
	return c, nil
}

// startLinux lets periph look for its drivers, then puts the layer of our own
// in the place of those that it replaces.
func startLinux(o linux.Options) (*linux.Computer, error) {
	if _, err := host.Init(); err != nil {
		return nil, noJudge(fmt.Errorf("start the computer's drivers: %w", err), "run on the bench's computer, with the rights to its buses and lines")
	}
	k, err := linux.New(o)
	if err != nil {
		return nil, noJudge(fmt.Errorf("look at the computer: %w", err), "")
	}
	if err := k.Register(); err != nil {
		return nil, noJudge(fmt.Errorf("register what the computer offers: %w", err), "")
	}
	return k, nil
}

// take finds every line, claims the rig, and opens every bus.
func (c *computer) take(ctx context.Context, w *wiring.Rig) error {
	for _, l := range w.AllLines() {
		pin, err := c.line(l.Device)
		if err != nil {
			return computerTrouble("line "+l.Name, err)
		}
		c.Lines[l.Name] = pin
	}
	if err := c.claim(ctx, w); err != nil {
		return err
	}
	for _, b := range w.Buses {
		bus, err := c.bus(b.Device)
		if err != nil {
			return computerTrouble("bus "+b.Name, err)
		}
		c.buses = append(c.buses, bus)
		c.Buses[b.Name] = bus
	}
	return nil
}

// line finds a line in periph's registry, else by a reference that the registry
// does not take.
func (c *computer) line(ref string) (gpio.PinIO, error) {
	if pin := gpioreg.ByName(ref); pin != nil {
		// Behind an alias is the line itself, which can say that it is gone.
		if alias, ok := pin.(gpio.RealPin); ok {
			pin = alias.Real()
		}
		return pin, nil
	}
	return c.linux.FindLine(ref)
}

// bus opens a bus that periph's registry knows, else by a reference that the
// registry does not take.
func (c *computer) bus(ref string) (i2c.BusCloser, error) {
	for _, r := range i2creg.All() {
		if r.Name == ref || strconv.Itoa(r.Number) == ref || slices.Contains(r.Aliases, ref) {
			return r.Open()
		}
	}
	return c.linux.OpenBus(ref)
}

// While the guard of the idle rig has it, a claim waits: one look takes a few
// tenths of a second. Own choices.
const (
	claimPatience = 3 * time.Second
	claimAgain    = 20 * time.Millisecond
)

// claim takes the heartbeat line, at rest. Who has it has the rig.
func (c *computer) claim(ctx context.Context, w *wiring.Rig) error {
	for i := range w.Lines {
		l := &w.Lines[i]
		if l.Use != wiring.Heartbeat {
			continue
		}
		rest := gpio.Level(l.ActiveLow)
		for end := c.Clock.Now() + claimPatience; ; {
			err := c.Lines[l.Name].Out(rest)
			if err == nil {
				return nil
			}
			var busy *linux.Reason
			if !errors.As(err, &busy) || !strings.HasPrefix(busy.Holder, guardUse) || c.Clock.Now() > end {
				return computerTrouble("line "+l.Name, err)
			}
			if err := c.Clock.Sleep(ctx, claimAgain); err != nil {
				return err
			}
		}
	}
	return usage("name a line with use = \"heartbeat\" in the wiring file", "rig %s has no heartbeat", w.Name)
}

// computerTrouble turns what the computer says into an outcome: a line that
// another program holds refuses, everything else means that nothing can be
// judged.
func computerTrouble(thing string, err error) error {
	err = fmt.Errorf("%s: %w", thing, err)
	var r *linux.Reason
	switch {
	case !errors.As(err, &r):
		return noJudge(err, "sinkproof rig show lists what the computer offers")
	case r.Kind == linux.Busy:
		return refused(err, cmp.Or(r.Hint, "End the other program first."))
	}
	return noJudge(err, r.Hint)
}

// Close gives the buses and lines back.
func (c *computer) Close() error {
	var all error
	for _, b := range c.buses {
		all = errors.Join(all, b.Close())
	}
	return errors.Join(all, c.linux.Close())
}

// wallClock is the computer's monotonic clock.
type wallClock struct{ start time.Time }

func newWallClock() wallClock { return wallClock{time.Now()} }

func (c wallClock) Now() time.Duration { return time.Since(c.start) }

func (c wallClock) Sleep(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// operator is a person at the keyboard who moves the units.
type operator struct {
	in  *bufio.Reader
	out io.Writer
	rig attended
}

func (o *operator) attend(rig attended) { o.rig = rig }

func (o *operator) Seat(ctx context.Context, serial string) error {
	return o.ask(ctx, "Seat "+serial+" and press Enter.")
}

func (o *operator) Unseat(ctx context.Context, serial, why string) error {
	return o.ask(ctx, "Take "+serial+" out and press Enter: "+why+".")
}

func (o *operator) Reseat(ctx context.Context, serial, why string) error {
	return o.ask(ctx, "Unplug "+serial+", plug it again and press Enter: "+why+".")
}

// SeatReceptacle takes any other answer than Enter for the reason why there is none.
func (o *operator) SeatReceptacle(ctx context.Context, why string) error {
	text, err := o.typed(ctx, "Seat the check receptacle and press Enter, or type why there is none: "+why+".")
	if err == nil && text != "" {
		return fmt.Errorf("%w: %s", scenarios.ErrNoReceptacle, text)
	}
	return err
}

func (o *operator) TakeReceptacle(ctx context.Context) error {
	return o.ask(ctx, "Take the check receptacle out and press Enter.")
}

// asking is how often the wait for a person looks for the answer; the rig
// serves its heartbeat and interlocks all the while.
const asking = 20 * time.Millisecond

// ask waits for Enter.
func (o *operator) ask(ctx context.Context, text string) error {
	_, err := o.typed(ctx, text)
	return err
}

// typed waits for a line. The reading goroutine outlives a cancelled run by at
// most the program, which ends then.
func (o *operator) typed(ctx context.Context, text string) (string, error) {
	fmt.Fprintln(o.out, text)
	type line struct {
		text string
		err  error
	}
	answer := make(chan line, 1)
	go func() {
		text, err := o.in.ReadString('\n')
		answer <- line{text, err}
	}()
	for {
		select {
		case got := <-answer:
			if got.err != nil {
				return "", fmt.Errorf("wait for the operator: %w", got.err)
			}
			return strings.TrimSpace(got.text), nil
		default:
		}
		if err := o.rig.Pause(ctx, asking); err != nil {
			return "", fmt.Errorf("wait for the operator: %w", err)
		}
	}
}

// hardwareIdentity is who a real station is. Its key lies beside the ledger
// and is made at the first start.
func hardwareIdentity(p *papers, ledgerPath string) (identity, error) {
	path := ledgerPath + ".key"
	key, err := record.LoadKey(path)
	if errors.Is(err, os.ErrNotExist) {
		if key, err = record.GenerateKey(rand.Reader); err == nil {
			err = record.SaveKey(path, key)
		}
	}
	if err != nil {
		return identity{}, refused(fmt.Errorf("the bench's key: %w", err), "restore "+filepath.Base(path)+" from the backup of this bench")
	}
	name, err := os.Hostname()
	if err != nil {
		return identity{}, fmt.Errorf("name of the computer: %w", err)
	}
	return identity{
		bench:  record.Bench{Name: p.rig.Rig.Name, Kind: record.Hardware, Program: version, Computer: name},
		key:    key,
		now:    time.Now,
		random: func(string, int) io.Reader { return rand.Reader },
	}, nil
}

// benchTrouble turns what the bench says into an outcome: an interlock and a
// line that another program holds refuse, everything else means that nothing
// could be judged.
func benchTrouble(err error) error {
	var lock *bench.Interlock
	if errors.As(err, &lock) {
		return refused(err, lock.Hint)
	}
	var busy *linux.Reason
	if errors.As(err, &busy) && busy.Kind == linux.Busy {
		return refused(err, busy.Hint)
	}
	var fault *bench.Fault
	if errors.As(err, &fault) {
		return noJudge(err, fault.Hint)
	}
	return noJudge(err, "")
}
