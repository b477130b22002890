package main

import (
	"bufio"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2creg"
	"periph.io/x/host/v3"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// computer is what a real computer offers to a rig.
type computer struct {
	bench.Hardware
	buses []i2c.BusCloser
}

// openComputer finds the buses and lines of the wiring file on this computer.
func openComputer(w *wiring.Rig, _ string) (*computer, error) {
	if _, err := host.Init(); err != nil {
		return nil, noJudge(fmt.Errorf("start the computer's drivers: %w", err), "run on the bench's computer, with the rights to its buses and lines")
	}
	c := &computer{Hardware: bench.Hardware{
		Buses: map[string]i2c.Bus{}, Lines: map[string]gpio.PinIO{}, Clock: newWallClock(),
	}}
	if len(i2creg.All()) == 0 {
		return nil, noJudge(errors.New("the computer offers no I2C bus"), "run on the bench's computer, with its I2C bus enabled and the rights to it")
	}
	for _, b := range w.Buses {
		bus, err := i2creg.Open(b.Device)
		if err != nil {
			return nil, noJudge(errors.Join(fmt.Errorf("bus %s: open device %q: %w", b.Name, b.Device, err), c.Close()),
				"check that the bus is enabled and that the user is in the group of its device")
		}
		c.buses = append(c.buses, bus)
		c.Buses[b.Name] = bus
	}
	for _, l := range w.Lines {
		pin := gpioreg.ByName(l.Device)
		if pin == nil {
			return nil, noJudge(errors.Join(fmt.Errorf("line %s: the computer has no line %q", l.Name, l.Device), c.Close()),
				"name the line as the computer does, in the device of the wiring file")
		}
		c.Lines[l.Name] = pin
	}
	return c, nil
}

// Close gives the buses back.
func (c *computer) Close() error {
	var all error
	for _, b := range c.buses {
		all = errors.Join(all, b.Close())
	}
	return all
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
	rig *bench.Rig
}

func (o *operator) attend(rig *bench.Rig) { o.rig = rig }

func (o *operator) Seat(ctx context.Context, serial string) error {
	return o.ask(ctx, "Seat "+serial+" and press Enter.")
}

func (o *operator) Unseat(ctx context.Context, serial, why string) error {
	return o.ask(ctx, "Take "+serial+" out and press Enter: "+why+".")
}

func (o *operator) Reseat(ctx context.Context, serial, why string) error {
	return o.ask(ctx, "Unplug "+serial+", plug it again and press Enter: "+why+".")
}

// asking is how often the wait for a person looks for the answer; the rig
// serves its heartbeat and interlocks all the while.
const asking = 20 * time.Millisecond

// ask waits for Enter. The reading goroutine outlives a cancelled run by at
// most the program, which ends then.
func (o *operator) ask(ctx context.Context, text string) error {
	fmt.Fprintln(o.out, text)
	answer := make(chan error, 1)
	go func() {
		_, err := o.in.ReadString('\n')
		answer <- err
	}()
	for {
		select {
		case err := <-answer:
			if err != nil {
				return fmt.Errorf("wait for the operator: %w", err)
			}
			return nil
		default:
		}
		if err := o.rig.Pause(ctx, asking); err != nil {
			return fmt.Errorf("wait for the operator: %w", err)
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

// benchTrouble turns what the bench says into an outcome: an interlock
// refuses, everything else means that nothing could be judged.
func benchTrouble(err error) error {
	var lock *bench.Interlock
	if errors.As(err, &lock) {
		return refused(err, lock.Hint)
	}
	var fault *bench.Fault
	if errors.As(err, &fault) {
		return noJudge(err, fault.Hint)
	}
	return noJudge(err, "")
}
