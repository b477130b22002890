package adc16x4

import (
	"context"
	"fmt"
	"time"

	"sinkproof/bench/chip"
)

// stream is the state of a continuous conversion.
type stream struct {
	on    bool
	word  uint16
	input Input
	rng   Range
	rate  Rate
	// start is when the configuration was about to be written.
	start time.Duration
	// last is the code of the last fresh conversion; its reading took from seen
	// to at.
	last     int16
	seen, at time.Duration
	// beat follows the ends of conversions where no pin tells of them.
	beat beat
	// blind: last is not known, because something was converted since the register
	// was read.
	blind bool
	// stale is when the last look began that found nothing new at the pin.
	stale time.Duration
}

// edgePoll is how long Next lets the ready pin look for an edge that has
// already come: 1 µs. Drivers of pins disagree on zero (one waits for ever) and
// on negative times (one returns at once), so a short positive time it is.
const edgePoll = time.Microsecond

// mostEdges ends the emptying of a pin's queue when the pin never runs dry:
// more than a second of edges at 860 per second. Own choice.
const mostEdges = 1024

// Start begins converting one input again and again; Next delivers. Stop, Convert,
// Halt and another Start end it.
func (d *Dev) Start(ctx context.Context, in Input, rng Range, rate Rate) error {
	if err := d.begin(ctx, in, rng, rate); err != nil {
		return fmt.Errorf("%s: start %s, %s, %s: %w", d, in, rng, rate, err)
	}
	return nil
}

func (d *Dev) begin(ctx context.Context, in Input, rng Range, rate Rate) error {
	if err := check(in, rng, rate); err != nil {
		return err
	}
	if err := d.settle(ctx); err != nil {
		return err
	}
	w := word(in, rng, rate)
	if d.opts.Ready == nil {
		w |= compOff
	} else {
		w |= compOne
		d.edges()
	}
	now := d.clock.Now()
	// The register still holds an older request's code: the first fresh one is told
	// from it like any other where it is known, and by its time where it is not.
	blind := !d.holds
	d.unsettled, d.holds = true, false
	if err := d.regs.Write(regConfig, w); err != nil {
		return err
	}
	at := d.clock.Now()
	d.stream = stream{on: true, word: w, input: in, rng: rng, rate: rate,
		start: now, last: d.held, blind: blind, seen: now, at: at, stale: now, beat: d.oscillator.begin(rate, now, at+wake)}
	return nil
}

// Stop ends a continuous conversion where one runs, and powers the converter down
// after the conversion that it is at. It waits for nothing: whoever converts next
// waits for what is left of that, mostly nothing. Stop works twice.
//
// Its error is chip.ErrLost where the codes of Next came to repeat themselves and the
// chip is not set to convert: they mean nothing then.
func (d *Dev) Stop() error {
	if err := d.stop(); err != nil {
		return fmt.Errorf("%s: stop: %w", d, err)
	}
	return nil
}

func (d *Dev) stop() error {
	if !d.stream.on {
		return nil
	}
	d.stream.on = false
	if d.stream.beat.mute {
		if err := d.regs.Check(regConfig, d.stream.word, maskStored, chip.ErrLost); err != nil {
			return err
		}
	}
	if err := d.regs.Write(regConfig, idleWord); err != nil {
		return err
	}
	d.over = d.stream.beat.over(d.clock.Now())
	return nil
}

// Next waits for a conversion that no earlier Next has returned. The errors are
// those of Convert, and ErrIdle before Start. An error leaves the continuous
// conversion running; the next call may succeed.
func (d *Dev) Next(ctx context.Context) (Sample, error) {
	s, err := d.next(ctx)
	if err != nil {
		return Sample{}, fmt.Errorf("%s: next of %s, %s, %s: %w", d, d.stream.input, d.stream.rng, d.stream.rate, err)
	}
	return s, nil
}

func (d *Dev) next(ctx context.Context) (Sample, error) {
	switch {
	case !d.stream.on:
		return Sample{}, ErrIdle
	case d.opts.Ready != nil:
		return d.nextPulse(ctx)
	}
	return d.nextCode(ctx)
}

// nextCode looks at the conversion register when the next conversion has ended
// for certain, or halfway to that where it would tell more of the oscillator.
func (d *Dev) nextCode(ctx context.Context) (Sample, error) {
	st := &d.stream
	unchanged := beforeAll
	look := st.beat.look()
	if st.blind {
		look = st.beat.certain()
	}
	for ; ; look = st.beat.certain() {
		if pause := look - d.clock.Now(); pause > 0 {
			if err := d.clock.Sleep(ctx, pause); err != nil {
				return Sample{}, fmt.Errorf("wait %s: %w", pause, err)
			}
		} else if err := ctx.Err(); err != nil {
			return Sample{}, err
		}
		// What was slept has passed, even by a clock whose Now stands still.
		began := max(d.clock.Now(), look)
		raw, err := d.regs.Read(regConversion)
		if err != nil {
			return Sample{}, err
		}
		code := int16(raw)
		same := code == st.last && !st.blind
		if same && began < st.beat.certain() {
			unchanged = began
			continue
		}
		if same {
			// Looks that found the same code may have met this conversion already.
			unchanged = beforeAll
		}
		if blank(code) {
			if err := d.regs.Check(regConfig, st.word, maskStored, chip.ErrLost); err != nil {
				return Sample{}, err
			}
		}
		st.beat.mute, st.blind = same, false
		at := d.clock.Now()
		st.beat.heard(&d.oscillator, unchanged, began, at)
		st.last, st.seen, st.at = code, began, at
		return d.sample(code, st.input, st.rng, st.beat.began(st.start), st.beat.end.most), nil
	}
}

// nextPulse waits for an edge of the ready pin.
func (d *Dev) nextPulse(ctx context.Context) (Sample, error) {
	st := &d.stream
	var code int16
	var began time.Duration
	// Counted from the beginning of the last reading, or Next would fall behind
	// the chip by the time that a reading takes.
	wait := st.rate.wait()
	wait.Longest += st.at - st.seen
	err := wait.Until(ctx, d.clock, st.seen, func() (ok bool, err error) {
		began = d.clock.Now()
		code, ok, err = d.pulsed()
		if err == nil && !ok {
			st.stale = began
		}
		return ok, err
	})
	if err != nil {
		return Sample{}, err
	}
	at := d.clock.Now()
	s := d.sample(code, st.input, st.rng, st.earliest(began), at)
	st.last, st.seen, st.at = code, began, at
	return s, nil
}

// earliest returns the first instant that the conversion read at began can
// have integrated. It ended within the slowest period before the reading, and
// after the last look that found nothing new; it began one period earlier.
func (s *stream) earliest(began time.Duration) time.Duration {
	ended := max(began-s.rate.Longest(), s.stale)
	return max(ended-s.rate.Longest(), s.start)
}

// wake is the time from power-down to the start of a conversion: 25 µs typical
// (from memory, ADS1115 data sheet), taken four times because no maximum is
// known.
const wake = 100 * time.Microsecond

// pulsed takes the edges that the ready pin has seen and reads the conversion.
// An edge during the reading means that the register may have changed under
// it: it is read again, or the same conversion would be delivered twice.
func (d *Dev) pulsed() (int16, bool, error) {
	if !d.edges() {
		return 0, false, nil
	}
	raw, err := d.regs.Read(regConversion)
	if err != nil {
		return 0, false, err
	}
	if d.edges() {
		raw, err = d.regs.Read(regConversion)
	}
	return int16(raw), err == nil, err
}

// edges empties the pin's queue and tells whether there was an edge.
func (d *Dev) edges() bool {
	seen := false
	for range mostEdges {
		if !d.opts.Ready.WaitForEdge(edgePoll) {
			break
		}
		seen = true
	}
	return seen
}
