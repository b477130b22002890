package proving

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"periph.io/x/conn/v3/gpio"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// open opens the rig. Where it does not open the cause is found and named, and
// the test goes on without a line that is stuck, or ends.
func (t *test) open(ctx context.Context, o bench.Options) error {
	for range len(t.w.Lines) + 1 {
		rig, err := bench.Open(ctx, t.w, t.job.Hardware, o)
		if err == nil {
			t.rig = rig
			return nil
		}
		again, err := t.notOpened(ctx, err)
		if err != nil || !again {
			return err
		}
	}
	t.over = true
	return nil
}

// notOpened names why a rig did not open. It is true when another try may work.
func (t *test) notOpened(ctx context.Context, cause error) (again bool, err error) {
	var lock *bench.Interlock
	switch {
	case errors.As(cause, &lock):
		return t.locked(ctx, lock)
	case errors.Is(cause, bench.ErrCoilSupply):
		return t.unarmed(ctx, cause)
	case !benchTrouble(cause):
		return false, cause
	}
	t.over = true
	s := t.step("open the rig")
	s.Trouble = cause.Error()
	t.done(s)
	if silent := t.silent(); len(silent) > 0 {
		for _, name := range silent {
			t.find(cause.Error(), Suspect{Thing: name, Fault: Absent})
		}
		return false, nil
	}
	var f *bench.Fault
	thing := t.w.Name
	if errors.As(cause, &f) {
		thing = f.Thing
	}
	t.find(cause.Error(), Suspect{Thing: thing, Fault: Unknown})
	return false, nil
}

// silent asks every chip for one byte and lists those that do not answer; a bus
// on which none does stands for them all.
func (t *test) silent() []string {
	var out []string
	for _, b := range t.w.Buses {
		bus, ok := t.job.Hardware.Buses[b.Name]
		if !ok {
			continue
		}
		var quiet []string
		n := 0
		for _, c := range t.w.Chips {
			if c.Bus != b.Name {
				continue
			}
			n++
			if bus.Tx(c.Address, nil, make([]byte, 1)) != nil {
				quiet = append(quiet, c.Name)
			}
		}
		if n > 1 && len(quiet) == n {
			quiet = []string{b.Name}
		}
		out = append(out, quiet...)
	}
	return out
}

// locked deals with an interlock that stands at the opening: hands release it,
// and where that does not help its line is stuck. The rig is not tried without
// its stop or its lid.
func (t *test) locked(ctx context.Context, lock *bench.Interlock) (again bool, err error) {
	use, release := wiring.Alert, Action("")
	switch lock.Kind {
	case bench.StopPressed:
		use, release = wiring.EmergencyStop, ReleaseStop
	case bench.LidOpen:
		use, release = wiring.Lid, CloseLid
	}
	line := t.line(func(l *wiring.Line) bool {
		return l.Use == use && (use != wiring.Alert || l.Chip == lock.Thing)
	})
	if line == nil {
		t.over = true
		t.find(lock.Error(), Suspect{Thing: lock.Thing, Fault: Unknown})
		return false, nil
	}
	if use == wiring.Alert {
		t.find(fmt.Sprintf("the line is at its active level with every coil off: %v", lock), Suspect{Thing: line.Name, Fault: LineStuck})
		t.without(line.Name)
		return true, nil
	}
	if t.job.Handler == nil {
		return false, lock // nobody is asked to take it back
	}
	if err := t.act(ctx, release); err != nil {
		return false, err
	}
	if !t.reads(line) {
		return true, nil
	}
	t.over = true
	t.find(fmt.Sprintf("asked to %s, and the line still says otherwise", release), Suspect{Thing: line.Name, Fault: LineStuck})
	return false, nil
}

func (t *test) line(is func(*wiring.Line) bool) *wiring.Line {
	for i := range t.w.Lines {
		if is(&t.w.Lines[i]) {
			return &t.w.Lines[i]
		}
	}
	return nil
}

// reads tells whether an input of the computer is at its active level.
func (t *test) reads(l *wiring.Line) bool {
	pin, ok := t.job.Hardware.Lines[l.Name]
	return ok && (pin.Read() == gpio.High) != l.ActiveLow
}

// without goes on without a line that is stuck.
func (t *test) without(line string) {
	w := *t.w
	w.Lines = slices.DeleteFunc(slices.Clone(w.Lines), func(l wiring.Line) bool { return l.Name == line })
	t.w = &w
}

// unarmed finds why the coil supply did not come: a line of the computer that
// does not follow what it is set to, the line that reads the supply, or the
// supply with its chain.
func (t *test) unarmed(ctx context.Context, cause error) (again bool, err error) {
	for _, use := range []wiring.LineUse{wiring.Heartbeat, wiring.Arm} {
		line := t.line(func(l *wiring.Line) bool { return l.Use == use })
		if line != nil && !t.follows(line) {
			t.over = true
			t.find("the line does not follow what the computer sets it to: "+cause.Error(), Suspect{Thing: line.Name, Fault: LineStuck})
			return false, nil
		}
	}
	told := t.line(func(l *wiring.Line) bool { return l.Use == wiring.CoilSupply })
	if told == nil {
		t.over = true
		t.find(cause.Error(), Suspect{Thing: t.w.Name, Fault: NoSupply})
		return false, nil
	}
	all := t.w
	t.without(told.Name)
	works, err := t.moves(ctx)
	if err != nil {
		return false, err
	}
	if works {
		t.find("contacts move, so the coil supply is on; the line says that it is off", Suspect{Thing: told.Name, Fault: LineStuck})
		return true, nil
	}
	t.w, t.over = all, true
	t.find("no contact moves after the arm pulse, and "+told.Name+" says that the coil supply is off",
		Suspect{Thing: "coil supply (fuse, monostable, latch, contacts of stop and lid)", Fault: NoSupply})
	return false, nil
}

// follows sets an output to both levels and reads the pin back. Nothing is
// armed: every coil register is off, and one edge is no heartbeat.
func (t *test) follows(l *wiring.Line) bool {
	pin, ok := t.job.Hardware.Lines[l.Name]
	if !ok {
		return false
	}
	good := true
	for _, level := range []gpio.Level{gpio.High, gpio.Low} {
		if level != gpio.Level(l.ActiveLow) && l.Use == wiring.Arm {
			// An arm pulse without a heartbeat does nothing.
			level = !gpio.Level(l.ActiveLow)
		}
		good = pin.Out(level) == nil && pin.Read() == level && good
	}
	return pin.Out(gpio.Level(l.ActiveLow)) == nil && good
}

// moves tells whether a contact moves that shows without power: the first state
// of the plan in which a channel reads what it does not read at rest.
func (t *test) moves(ctx context.Context) (bool, error) {
	v, c, err := t.telling()
	if err != nil {
		return false, err
	}
	rig, err := bench.Open(ctx, t.w, t.job.Hardware, bench.Options{})
	if err != nil {
		return false, t.rest(err)
	}
	got := bench.Reading{}
	if err = rig.Enter(ctx, v.state.Setting); err == nil {
		got, err = rig.Read(ctx, t.m.channels[c].Name, bench.ReadOptions{Periods: -1})
	}
	if err = t.rest(errors.Join(err, rig.Close())); err != nil {
		return false, err
	}
	return got.Value.SI > v.expected.low[c]/2, nil
}

// telling is the first state without power in which some channel reads more
// than a volt that reads nothing at rest.
func (t *test) telling() (*visit, int, error) {
	empty, _, err := t.m.plan()
	if err != nil {
		return nil, 0, err
	}
	for i := range empty[1:] {
		v := &empty[i+1]
		for c := range t.m.channels {
			if !v.powered && v.expected.low[c] > shown && empty[0].expected.high[c] < shown/2 && v.expected.certain[c] {
				return v, c, nil
			}
		}
	}
	return nil, 0, fmt.Errorf("find a state that shows whether coils have power: %w", ErrNoSelfTest)
}

// interlocks proves the alerts, the heartbeat, the stop and the lid. Each of
// them ends the run of the rig, so they come last.
func (t *test) interlocks(ctx context.Context) error {
	for _, prove := range []func(context.Context) error{
		t.overCurrent, t.overVoltage, t.heartbeat,
		func(ctx context.Context) error { return t.chain(ctx, wiring.EmergencyStop, PressStop, ReleaseStop) },
		func(ctx context.Context) error { return t.chain(ctx, wiring.Lid, OpenLid, CloseLid) },
	} {
		if t.over {
			return nil
		}
		if err := prove(ctx); err != nil {
			return err
		}
	}
	return nil
}

// reopen closes the rig and opens it with other limits.
func (t *test) reopen(ctx context.Context, o bench.Options) error {
	if t.rig != nil {
		_ = t.rig.Close() // what it could not do shows in the next opening
		t.rig = nil
	}
	return t.open(ctx, o)
}

// alertWait is how long a monitor may take to see a limit exceeded: its result
// takes 19 ms and a limit trips within two.
const alertWait = 120 * time.Millisecond

// overCurrent opens the rig with a ceiling below what the check load takes: the
// alert of the monitor must isolate it.
func (t *test) overCurrent(ctx context.Context) error {
	v, c := t.loaded(wiring.CurrentChannel)
	if v == nil {
		return nil
	}
	chip := t.m.channels[c].Ranges[0].Chip
	ceiling := quantity.Amperes(v.expected.low[c] / 2)
	return t.alert(ctx, v, chip, bench.OverCurrent, bench.Options{Current: ceiling}, nil)
}

// overVoltage does the same with the limit on VBUS.
func (t *test) overVoltage(ctx context.Context) error {
	v, c := t.loaded(wiring.VoltageChannel)
	if v == nil {
		return nil
	}
	current := t.w.Channels[slices.IndexFunc(t.w.Channels, func(x wiring.Channel) bool { return x.Kind == wiring.CurrentChannel })]
	for _, x := range t.w.Chips {
		if x.Kind == wiring.PowerMon && x.Name != current.Ranges[0].Chip {
			low := *t.w
			low.Guard.OverVoltage = quantity.Volts(0.9 * v.expected.low[c])
			return t.alert(ctx, v, x.Name, bench.OverVoltage, bench.Options{}, &low)
		}
	}
	return nil
}

// loaded is the state with power in which the first current channel reads most
// in what its first monitor sees, and the voltage channel that reads most
// there. Nil where the rig has no such state.
func (t *test) loaded(kind wiring.ChannelKind) (*visit, int) {
	empty, _, err := t.m.plan()
	if err != nil {
		return nil, 0
	}
	var best *visit
	most := 0.0
	at := slices.IndexFunc(t.m.channels, func(c *wiring.Channel) bool { return c.Kind == wiring.CurrentChannel })
	if at < 0 || len(t.m.channels[at].Ranges) == 0 {
		return nil, 0
	}
	for i := range empty {
		v := &empty[i]
		if len(v.state.Feed) > 0 && v.wait == noWait && v.expected.low[at] > most {
			best, most = v, v.expected.low[at]
		}
	}
	if best == nil || kind == wiring.CurrentChannel {
		return best, at
	}
	force, c := t.w.Nest.PinNet(wiring.PinVbusForce), -1
	for i, x := range t.m.channels {
		if x.Net == force {
			c = i
		}
	}
	if c < 0 {
		return nil, 0
	}
	return best, c
}

// alert enters a state in which a monitor must pull its alert line.
func (t *test) alert(ctx context.Context, v *visit, chip string, kind bench.InterlockKind, o bench.Options, w *wiring.Rig) error {
	line := t.line(func(l *wiring.Line) bool { return l.Use == wiring.Alert && l.Chip == chip })
	if line == nil {
		return nil // none is wired, or it was found stuck
	}
	if !t.sound(v) {
		t.report.Unproved = append(t.report.Unproved, line.Name+": the state that would provoke an alert has a fault itself")
		return nil
	}
	all := t.w
	if w != nil {
		t.w = w
	}
	err := t.reopen(ctx, o)
	t.w = all
	if err != nil || t.over {
		return err
	}
	s := t.step(fmt.Sprintf("%s: %s by %s", line.Name, kind, chip))
	t.rig.Pass(wiring.ProbeVbus)
	err = t.rig.Enter(ctx, v.state.Setting)
	if err == nil {
		err = t.rig.Pause(ctx, alertWait)
	}
	var lock *bench.Interlock
	switch {
	case errors.As(err, &lock) && lock.Kind == kind:
	case err != nil && !benchTrouble(err):
		return err
	default:
		s.Trouble = "no alert"
		t.find(fmt.Sprintf("the limit of %s was exceeded for %s and the rig stayed on", chip, alertWait),
			Suspect{Thing: line.Name, Fault: LineStuck}, Suspect{Thing: chip, Fault: NoAlert})
	}
	t.done(s)
	return nil
}

// sound tells whether a state was taken and every value of it was good.
func (t *test) sound(v *visit) bool {
	for _, s := range t.report.Steps {
		if s.Name == v.state.Setting.String() {
			return s.Trouble == "" && len(s.Items) > 0 && !slices.ContainsFunc(s.Items, func(x Item) bool { return !x.OK })
		}
	}
	return false
}

// heartbeat stops the heartbeat and sees the coils go, and stay off.
func (t *test) heartbeat(ctx context.Context) error {
	v, c, err := t.telling()
	if err != nil {
		return err
	}
	if err := t.reopen(ctx, bench.Options{}); err != nil || t.over {
		return err
	}
	s := t.step("the heartbeat stops")
	var got bench.HeartStop
	if err = t.rig.Enter(ctx, v.state.Setting); err == nil {
		got, err = t.rig.StopHeart(ctx, t.m.channels[c].Name)
	}
	if err != nil {
		if !benchTrouble(err) {
			return err
		}
		s.Trouble = err.Error()
		t.done(s)
		t.find(err.Error(), Suspect{Thing: t.w.Name, Fault: Unknown})
		return nil
	}
	t.judgeHeart(s, got, v.expected.low[c]/2)
	t.done(s)
	return nil
}

// judgeHeart compares what the line says with what the contacts do.
func (t *test) judgeHeart(s *Step, got bench.HeartStop, level float64) {
	gap := t.w.Guard.BeatGap.SI
	told := t.line(func(l *wiring.Line) bool { return l.Use == wiring.CoilSupply })
	beat := t.line(func(l *wiring.Line) bool { return l.Use == wiring.Heartbeat })
	s.Items = append(s.Items,
		newItem("with it", got.Before.Value, level, 2.5*level, limitsFrom),
		newItem("without it", got.Without.Value, 0, level/10, "wiring file: every contact is open"),
		newItem("back, not armed", got.Again.Value, 0, level/10, "wiring file: every contact is open"))
	gone := got.Without.Value.SI < level && got.Again.Value.SI < level
	switch {
	case !gone:
		t.find(fmt.Sprintf("%.0f ms after the heartbeat stopped, or when it came back without an arm pulse, contacts are closed", 1e3*3*gap),
			Suspect{Thing: beat.Name, Fault: NotCut})
	case told == nil:
	case !got.Dropped || got.Back:
		t.find("the contacts opened, and the line says that the coil supply is on", Suspect{Thing: told.Name, Fault: LineStuck})
		t.without(told.Name) // nothing later believes it
	default:
		after := quantity.NewMeasured(quantity.Seconds(got.After.Seconds()), quantity.Uniform("looks", 1e-3, 1))
		item := newItem("coil supply off after", after, 0, gap+lateCut.Seconds(), "wiring file: beat_gap; 5 ms for the relay of the latch (own choice)")
		s.Items = append(s.Items, item)
		if !item.OK {
			t.find("the coil supply goes off after "+item.Text, Suspect{Thing: beat.Name, Fault: NotCut})
		}
	}
}

// lateCut is what the latch may take beyond the gap.
const lateCut = 5 * time.Millisecond

// chain has hands press the stop or open the lid: its line must tell, and the
// coil supply must go off by itself and stay off.
func (t *test) chain(ctx context.Context, use wiring.LineUse, press, release Action) error {
	line := t.line(func(l *wiring.Line) bool { return l.Use == use })
	told := t.line(func(l *wiring.Line) bool { return l.Use == wiring.CoilSupply })
	if line == nil {
		return nil
	}
	if err := t.reopen(ctx, bench.Options{}); err != nil || t.over {
		return err
	}
	s := t.step(string(press))
	if err := t.act(ctx, press); err != nil {
		return err
	}
	err := t.rig.Pause(ctx, resting)
	if err != nil && !benchTrouble(err) {
		return err
	}
	tells, cuts := t.reads(line), told == nil || !t.reads(told)
	switch {
	case !tells && !cuts:
		t.find(fmt.Sprintf("asked to %s, and nothing happened", press),
			Suspect{Thing: line.Name, Fault: LineStuck}, Suspect{Thing: line.Name, Fault: NotCut})
	case !tells:
		t.find(fmt.Sprintf("asked to %s: the coil supply went off, the line does not tell why", press), Suspect{Thing: line.Name, Fault: LineStuck})
	case !cuts:
		t.find(fmt.Sprintf("asked to %s: the line tells, and %s says that the coil supply is still on", press, told.Name), Suspect{Thing: line.Name, Fault: NotCut})
	}
	if !tells || !cuts {
		s.Trouble = t.report.Findings[len(t.report.Findings)-1].Evidence
	}
	t.done(s)
	if err := t.act(ctx, release); err != nil {
		return err
	}
	return t.rest(t.rig.Safe())
}
