package takt

import (
	"context"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/scenarios"
)

// Watch follows the runs on one bench. Hardware is put under the bench, Bench
// between it and the run; At is the run's Job.At, and the watch is the bench's
// observer. It belongs to the bench's loop and is not for concurrent use.
type Watch struct {
	rig   *wiring.Rig
	clock bench.Clock
	chips map[place]wiring.ChipKind
	relay map[string]bool // contacts, not semiconductors and not selects

	start  time.Duration
	line   Timeline
	loads  map[string]*Load
	cursor time.Duration // everything before it has its cause
	round  string
	step   scenarios.Step
	doing  doing
	phase  Cause         // of a move: what a sleep is for
	first  time.Duration // of a measurement: its first transfer, -1 before it
	way    bool          // the next move is the way to the round
	next   bench.Observer
}

// place is where a chip answers.
type place struct {
	bus     string
	address uint16
}

// doing is what the bench is asked to do.
type doing int

const (
	nothing doing = iota
	moving
	probing
	measuring
)

// NewWatch returns a watch for a rig. next, when set, observes the bench, too.
func NewWatch(rig *wiring.Rig, next bench.Observer) *Watch {
	w := &Watch{rig: rig, chips: map[place]wiring.ChipKind{}, relay: map[string]bool{}, next: next}
	for _, c := range rig.Chips {
		w.chips[place{c.Bus, c.Address}] = c.Kind
	}
	for _, k := range rig.Relays {
		w.relay[k.Name] = !k.SolidState
	}
	return w
}

// Hardware returns the hardware with the watch in front of its buses and its
// clock.
func (w *Watch) Hardware(hw bench.Hardware) bench.Hardware {
	w.clock = hw.Clock
	out := hw
	out.Buses, out.Clock = map[string]i2c.Bus{}, watchedClock{hw.Clock, w}
	for name, b := range hw.Buses {
		out.Buses[name] = watchedBus{b, name, w}
	}
	return out
}

// Bench returns the bench with the watch in front of it.
func (w *Watch) Bench(b scenarios.Bench) scenarios.Bench { return &watchedBench{b, w} }

// Begin forgets what was watched: a run begins now.
func (w *Watch) Begin() {
	w.start = w.clock.Now()
	w.cursor, w.round, w.step, w.doing, w.way = w.start, "", nil, nothing, false
	w.line = Timeline{Operations: map[string]int{}}
	w.loads = map[string]*Load{}
	w.enterRound("")
}

// End returns what was watched since Begin.
func (w *Watch) End() *Timeline {
	w.fill(w.clock.Now(), Hands)
	w.leaveRound()
	for _, b := range w.rig.Buses {
		if l := w.loads[b.Name]; l != nil {
			w.line.Loads = append(w.line.Loads, *l)
		}
	}
	w.line.Total = w.cursor - w.start
	out := w.line
	return &out
}

// At implements scenarios.Job.At.
func (w *Watch) At(st scenarios.Stage, step string) {
	if st.Name != w.round {
		w.leaveRound()
		w.round, w.way = st.Name, true
		w.enterRound(st.Name)
	}
	i := slices.IndexFunc(st.Steps, func(s scenarios.Step) bool { return s.Label() == step })
	if w.step = nil; i >= 0 {
		w.step = st.Steps[i]
	}
}

func (w *Watch) enterRound(name string) {
	w.line.Rounds = append(w.line.Rounds, RoundTime{Name: name, From: w.clock.Now() - w.start})
}

func (w *Watch) leaveRound() { w.present().To = w.clock.Now() - w.start }

func (w *Watch) present() *RoundTime { return &w.line.Rounds[len(w.line.Rounds)-1] }

// fill gives the time up to an instant its cause.
func (w *Watch) fill(to time.Duration, cause Cause) {
	if to <= w.cursor {
		return
	}
	step := ""
	if w.step != nil {
		step = w.step.Label()
	}
	s := Segment{Round: w.round, Step: step, Cause: cause, From: w.cursor - w.start, To: to - w.start}
	if n := len(w.line.Segments); n > 0 {
		last := &w.line.Segments[n-1]
		if last.Round == s.Round && last.Step == s.Step && last.Cause == cause {
			last.To, w.cursor = s.To, to
			return
		}
	}
	w.line.Segments, w.cursor = append(w.line.Segments, s), to
}

// begin opens an operation of the bench.
func (w *Watch) begin(d doing) {
	w.fill(w.clock.Now(), Hands)
	w.doing, w.phase, w.first = d, Relays, -1
}

// transfer takes note of a transfer that is over.
func (w *Watch) transfer(bus string, address uint16, from time.Duration) {
	now := w.clock.Now()
	l := w.loads[bus]
	if l == nil {
		if w.loads == nil {
			return // the bench is being opened
		}
		l = &Load{Bus: bus}
		w.loads[bus] = l
	}
	l.Busy += now - from
	l.Transfers++
	switch w.doing {
	case moving, probing:
		w.fill(from, w.phase)
		cause := Bus
		switch w.chips[place{bus, address}] {
		case wiring.Expander:
			w.phase = Relays
		case wiring.ADC:
			if w.phase = Emptying; w.doing == probing {
				w.phase = Probing
			}
			cause = w.phase
		}
		w.fill(now, cause)
	case measuring:
		if w.first < 0 {
			w.first = from
		}
	}
}

// slept takes note of a sleep that is over.
func (w *Watch) slept() {
	if w.doing == moving || w.doing == probing {
		w.fill(w.clock.Now(), w.phase)
	}
}

// Moved implements bench.Observer.
func (w *Watch) Moved(m bench.Move) {
	if m.On && w.relay[m.Name] && w.line.Operations != nil {
		w.line.Operations[m.Name]++
		w.present().Operations++
	}
	if w.next != nil {
		w.next.Moved(m)
	}
}

// Noticed implements bench.Observer.
func (w *Watch) Noticed(n bench.Notice) {
	if w.next != nil {
		w.next.Noticed(n)
	}
}

// watchedClock tells the watch of every sleep.
type watchedClock struct {
	bench.Clock
	w *Watch
}

// Sleep implements bench.Clock.
func (c watchedClock) Sleep(ctx context.Context, d time.Duration) error {
	err := c.Clock.Sleep(ctx, d)
	c.w.slept()
	return err
}

// watchedBus tells the watch of every transfer.
type watchedBus struct {
	i2c.Bus
	name string
	w    *Watch
}

// Tx implements i2c.Bus.
func (b watchedBus) Tx(address uint16, write, read []byte) error {
	from := b.w.clock.Now()
	err := b.Bus.Tx(address, write, read)
	b.w.transfer(b.name, address, from)
	return err
}
