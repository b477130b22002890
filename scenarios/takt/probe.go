package takt

import (
	"fmt"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// probeStates are the first state of probe-vbus that drives a current, and
// isolated.
func (r *Rig) probeStates() (isolated, driven wiring.State, ok bool) {
	isolated, err := r.wiring.Expand(wiring.Setting{Condition: bench.Isolated})
	if err != nil {
		return isolated, driven, false
	}
	driven, err = r.wiring.Expand(wiring.Setting{Condition: bench.ProbeVbus})
	return isolated, driven, err == nil
}

// emptyNest is what proves the nest empty: one rise and fall under the probe
// current, and the sweeps that tell a small capacitance from a smaller one.
func (r *Rig) emptyNest() (out []Component, closings int) {
	isolated, driven, ok := r.probeStates()
	if !ok {
		return nil, 0
	}
	way, back := r.Way(isolated, driven, 0), r.Way(driven, isolated, 0)
	for range 2 { // once for the rise and fall, once for the sweeps
		closings += way.Closings
		out = append(out, way.Components...)
		out = append(out, back.Components...)
	}
	bleed := 0.0
	for _, n := range driven.On {
		if k, known := r.wiring.Relay(n); known && k.SolidState {
			bleed = max(bleed, k.Release.SI+k.Bounce.SI)
		}
	}
	each := bleed + seconds(r.pace.Bleeding) + seconds(r.pace.Conversion)
	out = append(out, Component{Cause: Probing, Seconds: float64(r.pace.Sweeps) * each,
		How: fmt.Sprintf("%d sweeps of %s: the bleeder closes, bleeds, and one conversion sees the rise", r.pace.Sweeps, quantity.Seconds(each).Text(3))})
	for i := range out {
		out[i].Step = "empty"
	}
	return out, closings
}

// probeWay is the way to the probe: what it enters by itself.
func (r *Rig) probeWay(wiring.State) Move {
	isolated, driven, ok := r.probeStates()
	if !ok {
		return Move{}
	}
	return r.Way(isolated, driven, 0)
}

// probe fills VBUS with the smallest probe current and watches it fall.
func (r *Rig) probe() []Component {
	_, driven, ok := r.probeStates()
	supply, is := r.wiring.SupplyOf(wiring.Probe)
	if !ok || !is {
		return nil
	}
	level, ok := supply.LevelFor(driven.On)
	if !ok || level.Value.SI <= 0 {
		return nil
	}
	farads, top := r.product.Port.Capacitance.Nominal, r.pace.Top
	open := 0.0
	for _, n := range driven.On {
		if k, known := r.wiring.Relay(n); known && !k.SolidState {
			open = max(open, k.Release.SI+k.Bounce.SI)
		}
	}
	return []Component{
		{Cause: Probing, Seconds: farads.SI * top.SI / level.Value.SI,
			How: fmt.Sprintf("C · U / I = %s · %s / %s: product file, bench, wiring", farads.Text(3), top.Text(2), level.Value.Text(2))},
		{Cause: Relays, Seconds: open, How: "release and bounce of the probe's contacts (wiring)"},
		{Cause: Probing, Seconds: seconds(r.pace.Fall), How: "the bench watches the fall that tells a load from a capacitance"},
	}
}

// end is the way to the safe state and its proof.
func (r *Rig) end(from wiring.State, by rules) []Component {
	isolated, _, ok := r.probeStates()
	if !ok {
		return nil
	}
	way := r.Way(from, isolated, by.volts(r, from))
	out := way.Components
	if way.after > 0 && (len(out) == 0 || out[len(out)-1].Cause != Relays) {
		out = append(out, Component{Cause: Relays, Seconds: way.after, How: "release and bounce (wiring)"})
	}
	for i := range out {
		out[i].Round = Isolated
	}
	return out
}
