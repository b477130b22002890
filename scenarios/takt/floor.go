package takt

import (
	"fmt"
	"math"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
	"sinkproof/scenarios"
)

// Floor computes what a run of a good unit takes at least, in the order of the
// scenario and with conversion windows shared, where supplies take their typical
// times.
func (r *Rig) Floor(sc *scenarios.Scenario) ([]Component, error) {
	return r.walk(Shared(sc), floorRules{})
}

// Fixed computes what a run of a good unit takes on a bench that cannot wait for
// anything: every wait as long as it may last, VBUS emptied from the highest
// voltage through the largest capacitance, readings one by one.
func (r *Rig) Fixed(sc *scenarios.Scenario) ([]Component, error) {
	plain := *sc
	plain.Windows = scenarios.OneByOne
	return r.walk(&plain, fixedRules{})
}

// Sum adds components up, in seconds.
func Sum(list []Component) float64 {
	sum := 0.0
	for _, c := range list {
		sum += c.Seconds
	}
	return sum
}

// rules tell the two computations apart.
type rules interface {
	// wait is how long a wait lasts before its hold.
	wait(r *Rig, leg scenarios.Stage, w scenarios.Wait, since float64) Component
	// settle is how long a reading takes to become steady, before the window;
	// lit is how long VBUS has been on by then, negative where it was on all
	// the time.
	settle(r *Rig, s scenarios.Read, lit float64) Component
	// volts is what VBUS is emptied from.
	volts(r *Rig, from wiring.State) float64
	// farads is how much of the product's capacitance is emptied.
	farads(r *Rig) quantity.Quantity
}

// walk goes through the scenario.
func (r *Rig) walk(sc *scenarios.Scenario, by rules) ([]Component, error) {
	out, _ := r.emptyNest()
	isolated, err := r.wiring.Expand(wiring.Setting{Condition: bench.Isolated})
	if err != nil {
		return nil, fmt.Errorf("compute the time of scenario %s: %w", sc.Name, err)
	}
	present := isolated
	product := *r.product
	product.Port.Capacitance.Nominal = by.farads(r)
	emptied := *r
	emptied.product = &product
	for _, leg := range sc.Stages {
		state, err := r.wiring.Expand(leg.Setting)
		if err != nil {
			return nil, fmt.Errorf("compute the time of stage %s: %w", leg.Name, err)
		}
		move := emptied.Way(present, state, by.volts(r, present))
		if probes(leg) {
			// What was asked of the empty nest ends isolated.
			out = append(out, emptied.Way(present, isolated, 0).Components...)
			move = r.probeWay(state)
		}
		list := append(move.Components, r.steps(sc, leg, move, by)...)
		for i := range list {
			list[i].Round = leg.Name
		}
		out, present = append(out, list...), state
		if probes(leg) {
			// The probe leaves the rig with its source released.
			if off, err := r.wiring.Expand(probeOff()); err == nil {
				present = off
			}
		}
	}
	return append(out, r.end(present, by)...), nil
}

func probeOff() wiring.Setting {
	return wiring.Setting{Condition: bench.ProbeVbus, Axes: []wiring.AxisChoice{{Axis: "current", Value: "off"}}}
}

func probes(leg scenarios.Stage) bool {
	for _, s := range leg.Steps {
		if _, ok := s.(scenarios.Probe); ok {
			return true
		}
	}
	return false
}

// steps are the components of a leg behind the way to it.
func (r *Rig) steps(sc *scenarios.Scenario, leg scenarios.Stage, way Move, by rules) []Component {
	var out []Component
	still := way.after // of what was written last
	lit := -1.0        // since VBUS came on
	if way.lights {
		lit = 0
	}
	for _, group := range sc.Together(leg) {
		label := group[0].Label()
		var list []Component
		switch s := group[0].(type) {
		case scenarios.Probe:
			list = r.probe()
		case scenarios.Wait:
			list = r.wait(leg, s, way.since, by)
			if still = 0; lit >= 0 {
				lit += seconds(s.Hold)
			}
		case scenarios.Read:
			if still > 0 {
				list = append(list, Component{Cause: Relays, Seconds: still, How: "operate and bounce of what was switched last (wiring)"})
				still = 0
			}
			list = append(list, r.readings(leg, group, lit, by)...)
		case scenarios.Sample:
			list = []Component{{Cause: Holding, Seconds: seconds(s.Over), How: "sampled for as long as the scenario asks"}}
			still = 0
		case scenarios.Capture:
			list = []Component{{Cause: Holding, Seconds: seconds(s.Over), How: "captured for as long as the scenario asks"}}
			still = 0
		}
		for i := range list {
			list[i].Step = label
		}
		out = append(out, list...)
	}
	return out
}

func (r *Rig) wait(leg scenarios.Stage, w scenarios.Wait, since float64, by rules) []Component {
	hold, cause := seconds(w.Hold), Holding
	if w.Relation == bench.Steady {
		cause = Mains
		if hold == 0 {
			hold = r.periods(r.pace.SteadyPeriods)
		}
	}
	out := []Component{by.wait(r, leg, w, since)}
	if hold > 0 {
		out = append(out, Component{Cause: cause, Seconds: hold, How: "held for as long as the scenario asks"})
	}
	return out
}

// readings are the windows of a group that is read together: different chips
// side by side, one chip's inputs one after the other.
func (r *Rig) readings(leg scenarios.Stage, group []scenarios.Step, lit float64, by rules) []Component {
	lanes := map[string]float64{}
	var settle Component
	for _, step := range group {
		s := step.(scenarios.Read)
		chip, window := r.window(leg, s)
		lanes[chip] += window
		if c := by.settle(r, s, lit); c.Seconds > settle.Seconds {
			settle = c
		}
	}
	longest, whole := 0.0, 0.0
	for _, lane := range lanes {
		longest = max(longest, lane)
	}
	first := group[0].(scenarios.Read)
	_, window := r.window(leg, first)
	how := "one conversion"
	if n := r.mainsPeriods(first); n > 0 {
		whole = min(longest, r.periods(n))
		how = fmt.Sprintf("%d mains period(s) of %s, in whole conversions", n, quantity.Seconds(r.periods(1)).Text(3))
	}
	if len(group) > 1 && longest > window {
		whole = longest // inputs of one converter follow each other
		how = "mains periods of the inputs of one converter, one after the other"
	}
	var out []Component
	if settle.Seconds > 0 {
		out = append(out, settle)
	}
	if whole > 0 {
		out = append(out, Component{Cause: Mains, Seconds: whole, How: how})
	}
	if rest := longest - whole; rest > 1e-9 {
		out = append(out, Component{Cause: Conversion, Seconds: rest, How: "whole conversions of the chip: the last one ends behind the window"})
	}
	return out
}

// mainsPeriods is how many mains periods a reading averages over.
func (r *Rig) mainsPeriods(s scenarios.Read) int {
	if s.Band > 0 {
		return r.pace.SteadyPeriods
	}
	if s.Periods != 0 {
		return max(s.Periods, 0)
	}
	if c, ok := r.voltage(s.Channel); ok && c.MainsAverage {
		return 1
	}
	return 0
}

// voltage is the channel that is converted for another one.
func (r *Rig) voltage(name string) (*wiring.Channel, bool) {
	c, ok := r.wiring.Channel(name)
	if ok && c.Kind == wiring.TerminationChannel {
		return r.wiring.Channel(c.Volts)
	}
	return c, ok
}

// window is the chip that a reading occupies, and for how long.
func (r *Rig) window(leg scenarios.Stage, s scenarios.Read) (string, float64) {
	c, ok := r.voltage(s.Channel)
	if !ok {
		return s.Channel, 0
	}
	chip, conversion := c.Chip, seconds(r.pace.Conversion)
	if c.Kind == wiring.CurrentChannel {
		chip, conversion = s.Channel, seconds(r.pace.Meter)
	}
	span := r.periods(r.mainsPeriods(s))
	if c.Kind != wiring.CurrentChannel && span > 0 && s.Band <= 0 {
		conversion = seconds(r.pace.Averaged)
	}
	n := math.Max(1, math.Ceil(span/conversion-0.5))
	if s.Band > 0 {
		n = math.Ceil(span / conversion)
	}
	time := n * conversion
	if whole, _ := r.wiring.Channel(s.Channel); whole.Kind == wiring.TerminationChannel {
		time *= 2 // pin and rail
	}
	return chip, math.Max(time, 0)
}

func (r *Rig) periods(n int) float64 {
	if r.wiring.Mains.SI <= 0 {
		return 0
	}
	return float64(n) / r.wiring.Mains.SI
}

// floorRules are those of the floor.
type floorRules struct{}

func (floorRules) volts(r *Rig, from wiring.State) float64 { return r.leaves(from) }
func (floorRules) farads(r *Rig) quantity.Quantity         { return r.product.Port.Capacitance.Nominal }

// asking is how long a charger asks the data lines at least before it takes its
// full current: TVDPSRC_ON, 40 ms (USB Battery Charging 1.2, table 5-5, from
// memory).
const asking = 40e-3

// settle is what the charger takes until its current stands.
func (floorRules) settle(r *Rig, s scenarios.Read, lit float64) Component {
	c, ok := r.wiring.Channel(s.Channel)
	if s.Band == 0 || lit < 0 || !ok || c.Kind != wiring.CurrentChannel {
		return Component{}
	}
	charger := r.product.Charger
	t, how := charger.SoftStart.Nominal.SI, "soft start of the charger (product file)"
	if charger.AsksData {
		t, how = t+asking, how+" after it has asked the data lines (TVDPSRC_ON, USB BC 1.2)"
	}
	return Component{Cause: Settling, Seconds: max(0, t-lit), How: fmt.Sprintf("%s, less %s that VBUS was held before", how, quantity.Seconds(lit).Text(2))}
}

// middle is the typical figure of a range.
func middle(x typec.Range) float64 { return (x.Min.SI + x.Max.SI) / 2 }

func (r *Rig) supply(name string) (s wiring.Supply, is bool) {
	for _, s := range r.wiring.Supplies {
		if s.Name == name {
			return s, true
		}
	}
	return wiring.Supply{}, false
}

// wait is what a typical supply takes.
func (floorRules) wait(r *Rig, leg scenarios.Stage, w scenarios.Wait, since float64) Component {
	s, fed := r.supply(leg.Supply)
	switch {
	case w.Relation == bench.Steady:
		return Component{Cause: Settling, How: "steady at once"}
	case w.Relation == bench.AtMost && fed && s.Kind == wiring.CSupply:
		return r.letsGo(s, w, since)
	case w.Relation == bench.AtMost:
		return Component{Cause: Release, How: "below the level at once"}
	case fed && s.Kind == wiring.CSupply:
		t := middle(typec.TCCDebounce()) + middle(typec.TVBUSOn())
		return Component{Cause: Supply, Seconds: math.Max(0, t-since),
			How: fmt.Sprintf("tCCDebounce + tVBUSON, the middle of each (USB Type-C R2.5, Tables 4-34 and 4-32): %s, less %s since its CC contacts stood still",
				quantity.Seconds(t).Text(3), quantity.Seconds(since).Text(2))}
	}
	return r.feedRise(leg, s, w)
}

// letsGo is how long a C supply takes to see that its sink is gone and to bleed
// its own output. That it may wait before it bleeds is not physics.
func (r *Rig) letsGo(s wiring.Supply, w scenarios.Wait, since float64) Component {
	farads := typec.SourceBulk().Min
	bleed := 0.0
	if s.Bleed.SI > 0 && w.Level.SI > 0 && s.Volts.Nominal.SI > w.Level.SI {
		bleed = s.Bleed.SI * farads.SI * math.Log(s.Volts.Nominal.SI/w.Level.SI)
	}
	t := middle(typec.TSRCDisconnect()) + bleed
	return Component{Cause: Release, Seconds: math.Max(0, t-since),
		How: fmt.Sprintf("tSRCDisconnect, its middle, and bleeding %s (cSrcBulk) through %s from %s to %s: %s, less %s since its CC contacts stood still",
			farads.Text(3), s.Bleed.Text(3), s.Volts.Nominal.Text(3), w.Level.Text(3), quantity.Seconds(t).Text(3), quantity.Seconds(since).Text(2))}
}

// feedRise is how long a supply that is on takes to rise behind its feed switch.
func (r *Rig) feedRise(leg scenarios.Stage, s wiring.Supply, w scenarios.Wait) Component {
	state, err := r.wiring.Expand(leg.Setting)
	if err != nil || len(state.Feed) == 0 || s.Volts.Nominal.SI <= 0 || w.Level.Dim != quantity.Voltage {
		return Component{Cause: Supply, How: "there at once"}
	}
	k, _ := r.wiring.Relay(state.Feed[0])
	share := math.Min(1, w.Level.SI/s.Volts.Nominal.SI)
	return Component{Cause: Supply, Seconds: share * k.Operate.SI, How: fmt.Sprintf("controlled rise of %s to %s of %s (wiring)", k.Name, w.Level.Text(3), s.Volts.Nominal.Text(3))}
}

// fixedRules are those of a bench without conditional waits.
type fixedRules struct{}

func (fixedRules) settle(_ *Rig, s scenarios.Read, _ float64) Component {
	if s.Band == 0 {
		return Component{}
	}
	return Component{Cause: Settling, Seconds: seconds(s.Within), How: "the longest time that the scenario allows"}
}

func (fixedRules) volts(r *Rig, from wiring.State) float64 {
	if len(from.Feed) > 0 {
		return r.wiring.Guard.OverVoltage.SI
	}
	return r.leaves(from)
}

func (fixedRules) farads(r *Rig) quantity.Quantity { return r.product.Port.Capacitance.High() }

func (fixedRules) wait(_ *Rig, _ scenarios.Stage, w scenarios.Wait, _ float64) Component {
	cause := Supply
	switch w.Relation {
	case bench.AtMost:
		cause = Release
	case bench.Steady:
		cause = Settling
	}
	return Component{Cause: cause, Seconds: seconds(w.Within), How: "the longest time that the scenario allows"}
}
