package bench_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/twin/chips"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures"
)

// board is the shipped rig in its simplest form: the chips by their registers,
// one capacitor on VBUS, and Ohm's law for everything else. It is not the
// twin: nothing here is a circuit, so that what the bench computes is checked
// against formulas that stand in the test.
type board struct {
	now      time.Duration
	rig      *wiring.Rig
	chips    map[uint16]chips.Device
	samplers []chips.Sampler
	lines    map[string]*pin

	// high are the coils as the expanders drive them; power is the coil
	// supply, dropped by a missing heartbeat and latched off.
	high   [3]uint16
	power  bool
	beatAt time.Duration
	armAt  time.Duration // when the arm line became active, -1
	pulses int           // arm pulses that restored the supply
	// energised are the relays whose coils carry current, by name; closed
	// says since when.
	energised map[string]bool
	moves     []move
	contacts  map[string]bool
	followed  int // how many of the moves the contacts have followed
	// norton is what drives VBUS while neither contacts nor unit change.
	norton struct {
		valid           bool
		unit            unit
		i, g, limit     float64
		through, ranged bool // the monitors carry current; the low shunt is bypassed
	}

	unit      unit
	releaseAt time.Duration // when the load becomes 100 kΩ, 0 for never
	v         float64       // on VBUS
	heat      float64       // °C at the nest

	// What is wrong with the bus, by the number of the transfer.
	transfers      int
	hangAt, diesAt int
	drag           time.Duration // on every transfer
	nakAt          int
	silent         map[uint16]bool // chips that do not answer
	onTransfer     func(n int)
}

// unit is what is seated.
type unit struct {
	farads  float64 // on VBUS, that of the fixture not included
	load    float64 // ohms from VBUS, 0 for none
	clamp   float64 // volts VBUS is clamped to, 0 for none
	draws   float64 // amperes above 4 V
	rd1     float64 // ohms, 0 for open
	holdsUp float64 // volts that the unit feeds VBUS with through 10 Ω
}

type move struct {
	at   time.Duration
	name string
	on   bool
}

// contactTime is how long a contact of the board takes to follow its coil.
const contactTime = 3 * time.Millisecond

// node is a voltage as it stands now. While VBUS moves, that is its mean over
// the step that is being taken.
type node func() float64

func (n node) Mean(_, _ time.Duration) float64 { return n() }

// shipped loads and proves the shipped rig once; nobody changes it.
var shipped = sync.OnceValues(func() (*fixtures.Fixture, error) { return fixtures.Shipped("bench-one") })

func shippedRig(t *testing.T) *wiring.Rig {
	t.Helper()
	f, err := shipped()
	require.NoError(t, err)
	return f.Rig
}

// newBoard builds the shipped rig with an empty nest.
func newBoard(t *testing.T) *board {
	t.Helper()
	b := &board{rig: shippedRig(t), chips: map[uint16]chips.Device{}, lines: map[string]*pin{}, armAt: -1, heat: 25,
		energised: map[string]bool{}, contacts: map[string]bool{}, hangAt: -1, diesAt: -1, nakAt: -1, silent: map[uint16]bool{}}
	half := func(v func() float64) chips.Probe { return node(func() float64 { return v() / 2 }) }
	vbus := func() float64 { return b.v }
	zero := func() float64 { return 0 }
	b.adc(0x48, [4]chips.Probe{half(vbus), half(b.cc1), half(zero), half(func() float64 { return 3.3 })})
	b.adc(0x49, [4]chips.Probe{half(vbus), half(zero), node(zero), node(func() float64 { return 2.5 })})
	b.adc(0x4A, [4]chips.Probe{half(zero), half(zero), half(zero), half(zero)})
	b.adc(0x4B, [4]chips.Probe{half(zero), half(zero), half(zero), half(zero)})
	b.monitor(0x40, func() float64 { return b.current() * 0.1 })
	b.monitor(0x41, func() float64 {
		i := b.current()
		if b.norton.ranged {
			return 0
		}
		return i
	})
	b.chips[0x4C] = chips.NewThermometer(chips.ThermometerOptions{Celsius: func(time.Duration) float64 { return b.heat },
		Rand: rand.New(rand.NewPCG(1, 9))})
	for i := range b.high {
		b.chips[uint16(0x20+i)] = chips.NewExpander(func(_ time.Duration, high uint16) {
			b.high[i] = high
			b.follow()
		})
	}
	for i := range b.rig.Lines {
		l := &b.rig.Lines[i]
		b.lines[l.Name] = &pin{board: b, line: l}
	}
	return b
}

func (b *board) adc(addr uint16, in [4]chips.Probe) {
	o := chips.ADCOptions{Inputs: in, Supply: 5, Noise: 40e-6, Rand: rand.New(rand.NewPCG(1, uint64(addr)))}
	c := chips.NewADC(o)
	b.chips[addr], b.samplers = c, append(b.samplers, c)
}

func (b *board) monitor(addr uint16, shunt func() float64) {
	o := chips.MonitorOptions{Plus: node(shunt), Sense: node(func() float64 { return b.v }), Rand: rand.New(rand.NewPCG(2, uint64(addr)))}
	c := chips.NewMonitor(o, 0)
	b.chips[addr], b.samplers = c, append(b.samplers, c)
}

// hardware is what the bench gets to see.
func (b *board) hardware() bench.Hardware {
	lines := map[string]gpio.PinIO{}
	for name, p := range b.lines {
		lines[name] = p
	}
	return bench.Hardware{Buses: map[string]i2c.Bus{"i2c-main": b}, Lines: lines, Clock: b}
}

// closed tells whether a contact or select has followed its coil.
func (b *board) closed(name string) bool { return b.contacts[name] }

// follow notes which coils carry current now.
func (b *board) follow() {
	for i := range b.rig.Relays {
		k := &b.rig.Relays[i]
		b.set(k.Name, b.power && b.driven(k.Coil))
	}
	for i := range b.rig.Selects {
		s := &b.rig.Selects[i]
		b.set(s.Name, b.driven(s.Pin))
	}
}

func (b *board) driven(p wiring.Pin) bool {
	return b.high[p.Chip[len(p.Chip)-1]-'1']&(1<<p.Bit) != 0
}

func (b *board) set(name string, on bool) {
	if b.energised[name] != on {
		b.energised[name] = on
		b.moves = append(b.moves, move{b.now, name, on})
	}
}

// cc1 is the voltage at the plug's CC1 contact.
func (b *board) cc1() float64 {
	if !b.closed("k_cut") || b.closed("k_flip1") {
		return 0
	}
	up := 0.0
	if b.closed("k_pu_lo") {
		up = 1 / 10e3
	}
	if b.closed("k_pu_hi") {
		up = 1 / 36e3
	}
	down := 1/1.02e6 + 1/1e18
	if b.unit.rd1 > 0 {
		down += 1 / b.unit.rd1
	}
	return 3.3 * up / (up + down)
}

func (b *board) fed() bool {
	return b.closed("k_leg1") && b.closed("k_leg2") && b.closed("s_feed") && b.closed("k_plug")
}

// current is what flows through the monitors.
func (b *board) current() float64 {
	b.drive()
	if !b.norton.through || b.v < 4 {
		return 0
	}
	i := b.unit.draws
	if b.unit.load > 0 {
		i += b.v / b.unit.load
	}
	return i
}

// drive brings the Norton source up to date.
func (b *board) drive() {
	n := &b.norton
	if n.valid && n.unit == b.unit {
		return
	}
	n.valid, n.unit = true, b.unit
	n.i, n.g, n.limit = b.source()
	n.through, n.ranged = b.fed(), b.closed("k_range")
}

// source returns the Norton current and conductance on VBUS.
func (b *board) source() (amperes, siemens, limit float64) {
	siemens, limit = 1/1.02e6, math.Inf(1)
	if !b.closed("k_bleed") {
		siemens += 1 / 475.0
	}
	if b.closed("k_load") {
		siemens += 1 / 1000.0
	}
	if b.unit.load > 0 {
		siemens += 1 / b.unit.load
	}
	if b.unit.holdsUp > 0 {
		amperes += b.unit.holdsUp / 10
		siemens += 0.1
	}
	if b.fed() {
		amperes += 5.1 / 0.5
		siemens += 1 / 0.5
	}
	if b.closed("k_pv1") && b.closed("k_pv2") {
		limit = 2.8
		if b.closed("sel_probe_5ma") {
			amperes += 5e-3
		} else {
			amperes += 0.1e-3
		}
	}
	if b.unit.clamp > 0 {
		limit = b.unit.clamp
	}
	return amperes, siemens, limit
}

// step lets VBUS move for a stretch in which no contact moves. The converters
// see its mean meanwhile.
func (b *board) step(to time.Duration) {
	b.drive()
	n := &b.norton
	tau := (10e-9 + b.unit.farads) / n.g
	end, begin, span := n.i/n.g, b.v, (to-b.now).Seconds()/tau
	b.now = to
	if span > 0 {
		b.v = min(end+(begin-end)*-math.Expm1(-span)/span, n.limit)
		for _, s := range b.samplers {
			s.Follow(to)
		}
	}
	b.v = min(end+(begin-end)*math.Exp(-span), n.limit)
}

// stride is the longest step, shorter than any conversion.
const stride = 500 * time.Microsecond

// advance plays everything up to an instant.
func (b *board) advance(to time.Duration) {
	for b.now < to {
		next := min(to, b.now+stride)
		if b.releaseAt > b.now {
			next = min(next, b.releaseAt)
		}
		if b.followed < len(b.moves) {
			next = min(next, b.moves[b.followed].at+contactTime)
		}
		if b.power {
			next = min(next, b.beatAt+30*time.Millisecond+1)
		}
		b.step(max(next, b.now))
		if b.releaseAt > 0 && b.now >= b.releaseAt {
			b.unit.load, b.releaseAt = 100e3, 0
		}
		if b.power && b.now > b.beatAt+30*time.Millisecond {
			b.power = false
			b.follow()
		}
		for b.followed < len(b.moves) && b.moves[b.followed].at+contactTime <= b.now {
			m := b.moves[b.followed]
			b.contacts[m.name], b.norton.valid = m.on, false
			b.followed++
		}
	}
}

// Now and Sleep are the virtual clock.
func (b *board) Now() time.Duration { return b.now }

func (b *board) Sleep(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	b.advance(b.now + max(d, 0))
	return nil
}

var errBoard = errors.New("the board's bus failed")

// String, SetSpeed and Tx are the bus at 400 kHz.
func (b *board) String() string { return "board" }

func (b *board) SetSpeed(physic.Frequency) error { return errBoard }

func (b *board) Tx(addr uint16, w, r []byte) error {
	n := b.transfers
	b.transfers++
	if b.onTransfer != nil {
		b.onTransfer(n)
	}
	b.advance(b.now + time.Duration(len(w)+len(r)+2)*9*2500 + b.drag)
	if n == b.hangAt {
		b.advance(b.now + time.Second)
	}
	if n == b.nakAt || b.diesAt >= 0 && n >= b.diesAt || b.silent[addr] || b.chips[addr] == nil {
		return errBoard
	}
	c := b.chips[addr]
	if len(w) > 0 {
		c.Write(b.now, w)
	}
	if len(r) > 0 {
		c.Read(b.now, r)
	}
	return nil
}

// pin is one line of the board.
type pin struct {
	board  *board
	line   *wiring.Line
	out    gpio.Level
	on     bool // of an input: active
	gone   error
	onRead func()
}

// ReadLevel is Read where the line may be gone.
func (p *pin) ReadLevel() (gpio.Level, error) { return p.Read(), p.gone }

func (p *pin) String() string                        { return p.line.Name }
func (p *pin) Name() string                          { return p.line.Name }
func (p *pin) Number() int                           { return -1 }
func (p *pin) Function() string                      { return "" }
func (p *pin) Halt() error                           { return nil }
func (p *pin) In(gpio.Pull, gpio.Edge) error         { return nil }
func (p *pin) Pull() gpio.Pull                       { return gpio.Float }
func (p *pin) DefaultPull() gpio.Pull                { return gpio.Float }
func (p *pin) WaitForEdge(time.Duration) bool        { return false }
func (p *pin) PWM(gpio.Duty, physic.Frequency) error { return errBoard }

func (p *pin) Read() gpio.Level {
	b := p.board
	if p.onRead != nil {
		p.onRead()
	}
	active := p.on
	switch p.line.Use {
	case wiring.CoilSupply:
		active = b.power
	case wiring.Alert:
		c, _ := b.rig.Chip(p.line.Chip)
		active = b.chips[c.Address].(chips.Alarm).Alert(b.now)
	}
	return gpio.Level(active != p.line.ActiveLow)
}

func (p *pin) Out(l gpio.Level) error {
	b := p.board
	changed := p.out != l
	p.out = l
	switch {
	case p.line.Use == wiring.Heartbeat && changed:
		b.beatAt = b.now
	case p.line.Use == wiring.Arm && l == gpio.High:
		b.armAt = b.now
	case p.line.Use == wiring.Arm && b.armAt >= 0 && b.now-b.armAt >= 5*time.Millisecond:
		b.armAt, b.power = -1, true
		b.pulses++
		b.follow()
	}
	return nil
}

// rig is an open bench on a board.
type rig struct {
	*bench.Rig
	board *board
	watch *watcher
	// dead is set by tests that kill the bus: the cleanup then only demands
	// that no contact is closed.
	dead bool
}

// watcher keeps what an observer is told.
type watcher struct {
	moves   []bench.Move
	notices []bench.Notice
}

func (w *watcher) Moved(m bench.Move)     { w.moves = append(w.moves, m) }
func (w *watcher) Noticed(n bench.Notice) { w.notices = append(w.notices, n) }

// NewRig opens a bench and proves after the test that no coil is left on.
func NewRig(t *testing.T, b *board, o bench.Options) *rig {
	t.Helper()
	r := &rig{board: b, watch: &watcher{}}
	o.Observer = r.watch
	var err error
	r.Rig, err = bench.Open(context.Background(), b.rig, b.hardware(), o)
	require.NoError(t, err)
	t.Cleanup(func() {
		err := r.Close()
		b.advance(b.now + 50*time.Millisecond)
		for name, on := range b.energised {
			require.False(t, on, "%s is still energised", name)
		}
		if !r.dead {
			require.NoError(t, err, "close")
			require.Equal(t, [3]uint16{}, b.high, "coil registers")
		}
	})
	return r
}

// to is a setting in short.
func to(condition string, axes ...string) wiring.Setting {
	s := wiring.Setting{Condition: condition}
	for i := 0; i+1 < len(axes); i += 2 {
		s.Axes = append(s.Axes, wiring.AxisChoice{Axis: axes[i], Value: axes[i+1]})
	}
	return s
}

func volts(v float64) quantity.Quantity { return quantity.Volts(v) }

func amps(a float64) quantity.Quantity { return quantity.Amperes(a) }

func celsius(c float64) quantity.Quantity { return quantity.Celsius(c) }
