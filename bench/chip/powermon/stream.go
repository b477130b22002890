package powermon

import (
	"context"
	"fmt"
	"time"

	"sinkproof/bench/chip"
)

// Start lets the chip convert shunt and bus without end; Next delivers. It is
// the only mode in which an armed limit is watched all the time. Measure, Shunt
// and Halt end it.
func (d *Dev) Start() error {
	start := d.clock.Now()
	if err := d.trigger(d.config(bothContinuous)); err != nil {
		return fmt.Errorf("%s: start shunt and bus, %s: %w", d, d.opts.Average, err)
	}
	d.running, d.start, d.seen, d.ended, d.at = true, start, start, start, d.clock.Now()
	return nil
}

// Next waits for a conversion that no earlier Next has returned. The errors are
// those of Measure, and ErrIdle before Start.
func (d *Dev) Next(ctx context.Context) (Reading, error) {
	r, err := d.next(ctx)
	if err != nil {
		return Reading{}, fmt.Errorf("%s: next of shunt and bus, %s: %w", d, d.opts.Average, err)
	}
	return r, nil
}

// mostReadings is how often Next reads the results when conversions land while
// it reads: only with the two shortest times and no average do they land every
// time, and then the two registers are of neighbouring conversions. Own choice.
const mostReadings = 3

func (d *Dev) next(ctx context.Context) (Reading, error) {
	w, from, err := d.newest(ctx, true)
	if err != nil {
		return Reading{}, err
	}
	w.derive(d.cal)
	r := d.reading(w, from)
	d.at = r.At
	return r, nil
}

// NextShunt is Next for whoever needs the shunt alone: a transfer less. The bus is
// converted and watched all the same.
func (d *Dev) NextShunt(ctx context.Context) (ShuntReading, error) {
	w, from, err := d.newest(ctx, false)
	if err != nil {
		return ShuntReading{}, fmt.Errorf("%s: next of the shunt, %s: %w", d, d.opts.Average, err)
	}
	r := d.shuntReading(w.shunt, from)
	d.at = r.At
	return r, nil
}

// newest waits for a conversion and reads its shunt, and its bus where that is asked
// for. It began at from or later.
func (d *Dev) newest(ctx context.Context, bus bool) (w words, from time.Duration, err error) {
	if !d.running {
		return w, 0, ErrIdle
	}
	// Counted from the look, not from the reading, or Next would fall behind
	// the chip by the time that reading takes.
	wait := d.bothWait()
	look := wait
	look.Longest += d.at - d.seen
	if err := d.await(ctx, look, d.seen); err != nil {
		return w, 0, err
	}
	d.ended = max(d.ended+wait.Shortest(), d.stale)
	for range mostReadings {
		// The newest conversion ended within the longest time before now and
		// began as long before that.
		from = max(d.start, d.clock.Now()-2*wait.Longest)
		if w, err = d.converted(bus); err != nil {
			return w, 0, err
		}
		asked := d.clock.Now()
		if asked < d.ended+wait.Shortest() {
			break // none can have landed meanwhile
		}
		if err := d.status(); err != nil {
			return w, 0, err
		}
		if !d.fresh {
			break
		}
		// It landed during the reading, or was known before.
		d.fresh, d.seen, d.ended = false, asked, d.ended+wait.Shortest()
	}
	return w, from, d.kept(w, bus)
}

// kept proves that the chip was not reset between the flag and the reading. Where a
// limit is armed the flag's own register has said that it was not before; a reset
// since then leaves both results 0 until a conversion has ended, which is then as good
// as any (SBOS547, table 7-1).
func (d *Dev) kept(w words, bus bool) error {
	if d.armed != 0 && w.shunt != 0 && (w.bus != 0 || !bus) {
		return nil
	}
	return d.regs.Check(regCalibration, d.cal, 0xFFFF, chip.ErrLost)
}
