package proving

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// Action is something that only hands can do.
type Action string

// The actions that a self-test asks for.
const (
	EmptyNest      Action = "take everything out of the nest"
	SeatReceptacle Action = "seat the check receptacle"
	TakeReceptacle Action = "take the check receptacle out"
	PressStop      Action = "press the emergency stop"
	ReleaseStop    Action = "release the emergency stop"
	OpenLid        Action = "open the lid"
	CloseLid       Action = "close the lid"
)

// Handler is who does it: the twin by itself, on hardware a person is asked.
type Handler interface {
	// Act returns when the action is done. rest lets a little time pass and
	// keeps the rig alive; it must be called again and again meanwhile. Its
	// error says that the rig saw something, and ends nothing by itself.
	Act(ctx context.Context, a Action, rest func(context.Context) error) error
}

// Job is one self-test to be done.
type Job struct {
	Wiring   *wiring.Rig
	Hardware bench.Hardware
	Handler  Handler
	// Receptacle says that there is a check receptacle to be seated.
	Receptacle bool
	// Progress is told of every step; nil is allowed.
	Progress func(Step)
}

// Run tests a rig. The error is the context's, the handler's or a mistake of
// the wiring; whatever is wrong with the rig is in the report. The rig ends
// closed.
func Run(ctx context.Context, job Job) (Report, error) {
	t := &test{job: job, w: job.Wiring, m: newModel(job.Wiring)}
	t.report = Report{Rig: job.Wiring.Name, Version: job.Wiring.Version}
	start := job.Hardware.Clock.Now()
	t.start = start
	err := t.run(ctx)
	if t.rig != nil {
		if closed := t.rig.Close(); closed != nil && err == nil && t.report.Healthy() {
			t.find("the rig was led to its safe state at the end: "+closed.Error(), Suspect{Thing: job.Wiring.Name, Fault: Unknown})
		}
	}
	t.report.Bench = job.Hardware.Clock.Now() - start - t.hands
	return t.report, err
}

// test is one self-test under way.
type test struct {
	job    Job
	w      *wiring.Rig // without the lines that were found stuck
	m      *model
	rig    *bench.Rig
	start  time.Duration
	hands  time.Duration
	report Report
	taken  []taken
	over   bool // nothing more can be done
	held   bool // the state that was entered holds VBUS up
	// opening is how the rig is opened where nothing else is asked.
	opening bench.Options
}

func (t *test) run(ctx context.Context) error {
	empty, seated, err := t.m.plan()
	if err != nil {
		return err
	}
	if err := t.act(ctx, EmptyNest); err != nil {
		return err
	}
	if err := t.open(ctx, t.opening); err != nil {
		return err
	}
	cold, powered := parted(empty)
	if err := t.visits(ctx, cold); err != nil {
		return err
	}
	if err := t.gate(); err != nil {
		return err
	}
	if err := t.visits(ctx, powered); err != nil {
		return err
	}
	if err := t.receptacle(ctx, seated); err != nil {
		return err
	}
	if err := t.conclude(); err != nil {
		return err
	}
	return t.interlocks(ctx)
}

// parted returns the states of a plan without power, and those after them.
func parted(plan []visit) (cold, powered []visit) {
	i := slices.IndexFunc(plan, func(v visit) bool { return v.powered })
	if i < 0 {
		i = len(plan)
	}
	return plan[:i], plan[i:]
}

// gate lets power onto the nest only where what was measured without it is
// explained: a unit that somebody forgot, or two faults, are not.
func (t *test) gate() error {
	if t.over {
		return nil
	}
	list, _, err := t.diagnose()
	if err != nil {
		return err
	}
	if slices.ContainsFunc(list, func(s Suspect) bool { return s.Fault == Unknown }) {
		t.over = true
		t.report.Unproved = append(t.report.Unproved, "everything with power: what was measured without it is not explained")
		return t.conclude()
	}
	return nil
}

// receptacle takes the states with the check receptacle.
func (t *test) receptacle(ctx context.Context, seated []visit) error {
	if !t.job.Receptacle || len(seated) == 0 || t.over {
		t.report.Unproved = append(t.report.Unproved,
			"the contacts of the test plug, what pulls at the CC contact opposite, and the gain behind the power contacts: they need the check receptacle")
		return nil
	}
	if err := t.rest(t.safe()); err != nil {
		return err
	}
	if err := t.act(ctx, SeatReceptacle); err != nil {
		return err
	}
	t.report.Seated = true
	if err := t.visits(ctx, seated); err != nil {
		return err
	}
	if err := t.rest(t.safe()); err != nil {
		return err
	}
	return t.act(ctx, TakeReceptacle)
}

func (t *test) safe() error {
	if t.rig == nil {
		return nil
	}
	return t.rig.Safe()
}

// rest drops what belongs to the rig: it shows in the states.
func (t *test) rest(err error) error {
	if benchTrouble(err) {
		return nil
	}
	return err
}

// benchTrouble tells the rig's trouble from everything else.
func benchTrouble(err error) bool {
	var f *bench.Fault
	var i *bench.Interlock
	return errors.As(err, &f) || errors.As(err, &i)
}

// act has hands do something and does not count their time.
func (t *test) act(ctx context.Context, a Action) error {
	began := t.job.Hardware.Clock.Now()
	defer func() { t.hands += t.job.Hardware.Clock.Now() - began }()
	err := t.job.Handler.Act(ctx, a, func(ctx context.Context) error {
		if t.rig == nil {
			return t.job.Hardware.Clock.Sleep(ctx, resting)
		}
		return t.rig.Pause(ctx, resting)
	})
	if err != nil {
		return fmt.Errorf("ask to %s: %w", a, err)
	}
	return nil
}

// resting is how long a rest lasts: twice the wait for a line that bounces.
const resting = 20 * time.Millisecond

// step begins a step of the report.
func (t *test) step(name string) *Step {
	return &Step{Name: name, At: t.job.Hardware.Clock.Now() - t.start}
}

func (t *test) done(s *Step) {
	t.report.Steps = append(t.report.Steps, *s)
	if t.job.Progress != nil {
		t.job.Progress(*s)
	}
}

// find adds a finding.
func (t *test) find(evidence string, list ...Suspect) {
	t.report.Findings = append(t.report.Findings, Finding{Suspects: list, Evidence: evidence, Rework: rework(list)})
}

// mostTroubles is how many states may fail altogether before the test gives up.
const mostTroubles = 6

// visits takes states one after the other.
func (t *test) visits(ctx context.Context, list []visit) error {
	troubles := 0
	for i := range list {
		if t.over {
			return nil
		}
		s := t.step(list[i].state.Setting.String())
		err := t.visit(ctx, &list[i], s)
		if err != nil && !benchTrouble(err) {
			return err
		}
		if err != nil {
			s.Trouble = err.Error()
			if err := t.recover(ctx); err != nil {
				return err
			}
			if troubles++; troubles > mostTroubles {
				t.over = true
			}
		}
		t.done(s)
	}
	return nil
}

// recover opens a rig again whose run is over.
func (t *test) recover(ctx context.Context) error {
	if t.rig.Begin(ctx) == nil {
		return nil
	}
	_ = t.rig.Close() // what it could not do shows in the next opening
	t.rig = nil
	return t.open(ctx, t.opening)
}

// visit enters one state, waits for what has to be waited for, and reads every
// channel.
func (t *test) visit(ctx context.Context, v *visit, s *Step) error {
	if t.held {
		// Else the next state would wait in vain for VBUS to fall.
		if err := t.rig.Safe(); err != nil && !errors.Is(err, bench.ErrHeld) {
			return err
		}
	}
	t.held = v.holds
	if v.powered {
		t.rig.Pass(wiring.ProbeVbus) // the gate was passed
	}
	if err := t.rig.Enter(ctx, v.state.Setting); err != nil && !errors.Is(err, bench.ErrHeld) {
		return err
	}
	if err := t.await(ctx, v, s); err != nil {
		return err
	}
	values, items, err := t.read(ctx, v)
	if err != nil {
		return err
	}
	if err := t.settle(ctx, v, values, items); err != nil {
		return err
	}
	s.Items = append(s.Items, items...)
	x := taken{stand: v.stand, values: values}
	if err := x.pair(); err != nil {
		return err
	}
	t.taken = append(t.taken, x)
	return nil
}

// settling is ten time constants of a megohm and 10 nF: what is left of 5 V
// then is less than a converter's step. Two of them apart, at a glance, a voltage
// that is still on its way has moved by six times what is left to go.
const (
	settling = 100 * time.Millisecond
	glance   = 20 * time.Millisecond
)

// settle reads what is not as it should be again until it stands still: what a
// fault leaves without a load takes its time.
func (t *test) settle(ctx context.Context, v *visit, values []measured, items []Item) error {
	for range settling / glance {
		if !slices.ContainsFunc(items, func(x Item) bool { return !x.OK }) {
			return nil
		}
		before := slices.Clone(values)
		if err := t.rig.Pause(ctx, glance); err != nil {
			return err
		}
		if err := t.readAgain(ctx, v, values, items); err != nil {
			return err
		}
		if !moved(before, values) {
			return nil
		}
	}
	return nil
}

// moved tells whether a value has changed by more than noise does: 1 mV or 10 µA,
// and 0.02 % (own choice).
func moved(before, after []measured) bool {
	for i, x := range after {
		least := 1e-3
		if x.value.Dim == quantity.Current {
			least = 10e-6
		}
		if abs(x.value.SI-before[i].value.SI) > least+2e-4*abs(x.value.SI) {
			return true
		}
	}
	return false
}

// read reads every channel; a current only where a feed is on.
func (t *test) read(ctx context.Context, v *visit) (values []measured, items []Item, err error) {
	var list []int
	for i, c := range t.m.channels {
		if c.Kind != wiring.CurrentChannel || len(v.state.Feed) > 0 {
			list = append(list, i)
		}
	}
	return t.readTogether(ctx, v, list)
}

// readTogether reads channels; those on different chips share their time.
func (t *test) readTogether(ctx context.Context, v *visit, list []int) (values []measured, items []Item, err error) {
	asks := make([]bench.Ask, len(list))
	for k, i := range list {
		asks[k] = bench.Ask{Channel: t.m.channels[i].Name, ReadOptions: t.options(v, i)}
	}
	got, err := t.rig.ReadTogether(ctx, asks)
	if err != nil {
		return nil, nil, err
	}
	for k, i := range list {
		x := got[k].Reading.Value
		values = append(values, newMeasured(i, x))
		items = append(items, newItem(asks[k].Channel, x, v.expected.low[i], v.expected.high[i], limitsFrom))
	}
	return values, items, nil
}

// readAgain reads those channels once more that were not as they should be.
func (t *test) readAgain(ctx context.Context, v *visit, values []measured, items []Item) error {
	var list, at []int
	for k := range items {
		if !items[k].OK {
			list, at = append(list, values[k].channel), append(at, k)
		}
	}
	again, texts, err := t.readTogether(ctx, v, list)
	if err != nil {
		return err
	}
	for n, k := range at {
		values[k], items[k] = again[n], texts[n]
	}
	return nil
}

// precise is the voltage above which a channel is averaged over a mains period
// where the state makes it what it is.
const precise = 0.2

// options: the range by what a healthy rig reads; a value that says something
// is averaged over the mains, one that only shows that nothing is there is not.
func (t *test) options(v *visit, i int) bench.ReadOptions {
	most := max(abs(v.expected.low[i]), abs(v.expected.high[i]), 1e-3)
	o := bench.ReadOptions{Expect: quantity.Volts(1.1 * most), Periods: -1}
	if t.m.channels[i].Kind == wiring.CurrentChannel {
		return bench.ReadOptions{}
	}
	if v.expected.low[i] > precise && (len(t.taken) == 0 || t.changes(v, i)) {
		o.Periods = 0
	}
	return o
}

// changes tells whether a channel has another value here than at rest.
func (t *test) changes(v *visit, i int) bool {
	first := t.taken[0].values
	for _, x := range first {
		if x.channel == i {
			return abs(x.value.SI-v.expected.value(i)) > 0.05*abs(v.expected.value(i))
		}
	}
	return true
}

func abs(x float64) float64 { return max(x, -x) }

// await waits for a supply that thinks, and keeps how long it took.
func (t *test) await(ctx context.Context, v *visit, s *Step) error {
	if v.wait == noWait {
		return nil
	}
	limit, source := v.deadline()
	u := bench.Until{Channel: t.m.channels[v.channel].Name, Relation: bench.AtLeast, Within: limit + patience,
		Level: quantity.Volts(risen * v.expected.low[v.channel]), Interval: 2 * time.Millisecond}
	late, what := SupplyLate, "on"
	if v.wait == forFall {
		u.Relation, u.Level, late, what = bench.AtMost, t.w.Guard.Safe0V, SupplySlowOff, "off"
	}
	got, err := t.rig.Wait(ctx, u)
	if err != nil || !got.Met {
		return err
	}
	item := newItem(what, got.Since, 0, limit.Seconds(), source)
	s.Items = append(s.Items, item)
	if !item.OK && v.supply != nil {
		t.find(fmt.Sprintf("%s: %s after %s, allowed are %s", v.state.Setting, what, item.Text, quantity.Seconds(limit.Seconds()).Text(3)), Suspect{Thing: v.supply.Name, Fault: late})
	}
	return nil
}
