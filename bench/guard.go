package bench

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench/wiring"
)

var (
	// ErrLate is the cause when the heartbeat came too late: the hardware has
	// dropped the coil supply and holds it off.
	ErrLate = errors.New("the heartbeat came too late")
	// ErrCoilSupply is the cause when the coil supply is off while coils are
	// meant to be on.
	ErrCoilSupply = errors.New("the coil supply is off")
	// ErrLine is the cause when a line of the computer cannot be set or read.
	ErrLine = errors.New("the line cannot be used")
)

// slice is the longest time that passes in a wait without serving the guard:
// 10 ms, a third of the longest gap between heartbeats.
const slice = 10 * time.Millisecond

// beatsPerGap is how many heartbeat edges fall into the longest gap, so that
// two may be late before the coils drop. Own choice.
const beatsPerGap = 3

// rearm is the hint wherever only a new opening helps.
const rearm = "Find out why the loop was held up, then open the rig again: only that arms the coils."

// lookEvery is how long a look at the lines holds: 1 ms, a quarter of what a
// contact takes to open. A transfer that follows another at once need not read
// them all again; in a wait a slice may pass anyway. Own choice.
const lookEvery = time.Millisecond

// guard serves the safety chain between any two transfers. It is the clock of
// the drivers, so that every wait of theirs serves it too.
type guard struct {
	clock Clock

	heart   *heart
	living  bool // the coils need the heartbeat
	ended   int  // how often the heart had ended when they were armed
	armLine line
	inputs  []watched
	supply  *line // nil where no line reads the coil supply

	wrote  span          // of the last transfer that only wrote
	looked time.Duration // when the lines were read
	// armed: the coil supply is expected on.
	armed bool
	// quiet: the way to the safe state or out of it; nothing trips.
	quiet bool
	// dropping: the guard's own transfers must not serve it again.
	dropping bool
	// err is why the run is over; lost, that only Open can arm again.
	err  error
	lost bool

	// act is done once in a wait, at due: what must happen while a converter
	// integrates.
	act func() error
	due time.Duration

	// drop takes the coils off at once. watch reads what no line tells; it
	// is called between slices, never inside a transfer, with the time, and returns it.
	drop   func()
	watch  func(context.Context, time.Duration) (time.Duration, error)
	notice func(what string, err error)
	// watchAt is when watch is wanted again.
	watchAt time.Duration
}

// line is one digital line with its polarity.
type line struct {
	name string
	pin  gpio.PinIO
	low  bool // active low
	// level is the pin where it can say that it cannot be read; nil elsewhere.
	level leveller
}

func newLine(name string, pin gpio.PinIO, low bool) line {
	level, _ := pin.(leveller)
	return line{name, pin, low, level}
}

// leveller is a pin that can say that it cannot be read. The interface of pins
// has no room for that: what was unplugged reads as Low.
type leveller interface {
	ReadLevel() (gpio.Level, error)
}

// read tells whether an input is active. Outputs are never read: one driver
// turns an output that is read into an input.
func (l *line) read() (bool, error) {
	if l.level == nil {
		return l.plain(), nil
	}
	level, err := l.level.ReadLevel()
	if err != nil {
		return false, &Fault{What: "read the line", Thing: l.name, Hint: "Check that the computer still has the line, and its wire.",
			Err: fmt.Errorf("%w: %w", ErrLine, err)}
	}
	return (level == gpio.High) != l.low, nil
}

// plain is read of a pin that cannot say that it cannot be read.
func (l *line) plain() bool { return (l.pin.Read() == gpio.High) != l.low }

func (l *line) set(active bool) error {
	if err := l.pin.Out(gpio.Level(active != l.low)); err != nil {
		return fmt.Errorf("%w: set line %s: %w", ErrLine, l.name, err)
	}
	return nil
}

// watched is an input that isolates the rig when it is active.
type watched struct {
	line
	trip Interlock // what comes back, without the outcome of Safe
}

// Now is the time on the rig's clock.
func (g *guard) Now() time.Duration { return g.clock.Now() }

// Sleep waits in slices and serves the guard between them. It returns the
// guard's error as soon as it trips.
func (g *guard) Sleep(ctx context.Context, d time.Duration) error {
	now := g.clock.Now()
	end, slept := now+d, false
	for {
		var err error
		if now, err = g.serve(now); err != nil {
			return err
		}
		if act := g.act; act != nil && now >= g.due {
			g.act = nil
			if err := act(); err != nil {
				return err
			}
			now = g.clock.Now()
			continue
		}
		if now >= end {
			if slept {
				return nil // the clock has seen to the context
			}
			return ctx.Err()
		}
		if err := g.clock.Sleep(ctx, g.step(now, end)); err != nil {
			return err
		}
		slept = true
		now = g.clock.Now()
		if now >= g.watchAt && g.watch != nil && !g.quiet && !g.dropping {
			if now, err = g.watch(ctx, now); err != nil {
				return err
			}
		}
	}
}

// step is how long a wait may sleep from now on. An edge of the heartbeat that would
// fall due meanwhile is given at once, unless the last was a moment ago: it may always
// come early, and most waits are then one sleep instead of two. Nests that share a
// heartbeat would each give one.
func (g *guard) step(now, end time.Duration) time.Duration {
	step := min(end-now, slice)
	if g.act != nil {
		step = min(step, max(g.due-now, time.Microsecond))
	}
	if h := g.heart; h.beating {
		if h.nests == 1 && !g.dropping && now-h.last >= h.period/2 && h.last+h.period < now+step {
			h.edge(now)
		}
		step = min(step, max(h.last+h.period-now, time.Microsecond))
	}
	return step
}

// serve gives the heartbeat edge when it is due and looks at the lines. Its
// error is why the run is over. It returns the time, which a look at the lines takes
// some of.
func (g *guard) serve(now time.Duration) (time.Duration, error) {
	if g.dropping {
		return now, nil
	}
	if g.beatDue(now) {
		g.beat(now)
	}
	if g.quiet {
		return now, nil
	}
	if g.err == nil && now-g.looked >= lookEvery {
		g.looked = now
		g.look()
		now = g.clock.Now()
	}
	return now, g.err
}

// after looks at the clock when a transfer has come back. On the way to the
// safe state what it read is still good.
func (g *guard) after(now time.Duration) error {
	if g.beatDue(now) {
		g.beat(now)
	}
	if g.quiet {
		return nil
	}
	return g.err
}

// beatDue tells whether beat has anything to do, which a run asks some 10,000 times.
func (g *guard) beatDue(now time.Duration) bool {
	h := g.heart
	return h.beating && now-h.last >= h.period || g.living && g.ended != h.ends
}

// beat gives the edge when it is due, whichever nest needs it. An edge that is too
// late is never given: it could close contacts that the hardware has opened.
func (g *guard) beat(now time.Duration) {
	h := g.heart
	if h.beating && now-h.last >= h.period {
		h.due(now)
	}
	if g.living && g.ended != h.ends {
		g.lose(h.why)
	}
}

// start lets the heart beat for this nest, too.
func (g *guard) start() error {
	if !g.living {
		g.living = true
		g.heart.nests++
	}
	g.ended = g.heart.ends
	now := g.clock.Now()
	g.heart.start(now)
	g.beat(now)
	if !g.living {
		return g.err
	}
	return nil
}

// leave gives the heartbeat up. It ends with the last nest that needs it.
func (g *guard) leave() {
	if !g.living {
		return
	}
	g.living = false
	if g.heart.nests--; g.heart.nests == 0 {
		g.heart.beating = false
	}
}

// lose gives it up for good: the coil supply is off and stays off until the next
// opening.
func (g *guard) lose(f *Fault) {
	g.leave()
	g.lost, g.armed = true, false
	g.trip(f)
}

// look reads the lines. What takes the coil supply away may have come since its
// own line was read: the inputs are asked once more before the supply is blamed.
func (g *guard) look() {
	if g.tripped() {
		return
	}
	if g.armed && g.supply != nil && !g.supplied() && !g.tripped() {
		g.lose(&Fault{What: "look at the coil supply", Thing: g.supply.name,
			Hint: "Look for an open lid, a stop button or a blown fuse, then open the rig again.", Err: ErrCoilSupply})
	}
}

// tripped reads the inputs, and trips where one is active or cannot be read.
func (g *guard) tripped() bool {
	for i := range g.inputs {
		w := &g.inputs[i]
		var active bool
		var err error
		if w.level == nil {
			active = w.plain() // a run asks some 8,000 times
		} else {
			active, err = w.read()
		}
		if err != nil {
			g.trip(err)
			return true
		}
		if active {
			trip := w.trip
			g.trip(&trip)
			return true
		}
	}
	return false
}

// supplied tells whether the coil supply is on. A line that cannot be read
// tells of none.
func (g *guard) supplied() bool {
	on, err := g.supply.read()
	return err == nil && on
}

// trip ends the run: the coils go off at once, before anything else. The first
// reason is kept.
func (g *guard) trip(err error) {
	if g.err == nil {
		g.err = err
		g.notice("tripped", err)
	}
	if g.dropping {
		return
	}
	g.dropping = true
	defer func() { g.dropping = false }()
	g.drop()
}

// clear forgets why the last run ended, unless the coil supply is lost.
func (g *guard) clear() error {
	if g.lost {
		return g.err
	}
	g.err = nil
	g.look()
	return g.err
}

// inputFor maps a use of a line to the interlock that it trips.
func inputFor(l *wiring.Line, in line) (watched, bool) {
	switch l.Use {
	case wiring.EmergencyStop:
		return watched{in, Interlock{Kind: StopPressed, Thing: l.Name,
			Hint: "Release the emergency stop when the cause is gone, then open the rig again."}}, true
	case wiring.Lid:
		return watched{in, Interlock{Kind: LidOpen, Thing: l.Name, Hint: "Close the lid, then open the rig again."}}, true
	}
	return watched{}, false
}
