package circuit

import "math"

// run is the course of an island since its last entry: node i is at
//
//	v(t) = offset[i] + sum over q of b[i][j] * amp[q] * decay[q](t-since), j = acts[q]
//
// over the modes that move anything, where decay falls from 1 to 0 as exp(-rate t), or for a slow mode from 0
// downwards as -(1-exp(-rate t))/rate. Both only ever fall, with slopes that
// only ever shrink (or grow): the bounds in crossing.go rest on that.
type run struct {
	since   float64
	at      float64 // the instant decay was last evaluated for
	offset  []float64
	acts    []int32   // the modes that move anything
	rates   []float64 // of these, 1/s
	slow    []bool    // of these: the growing form is used
	amp     []float64 // of these
	decay   []float64 // of these, at the instant
	weight  []float64 // amp times decay of the modes in busy
	busy    []int32   // the modes for which that is not zero
	current []float64 // currents into the nodes
	q       []float64 // charges of the states at entry
	force   []float64 // currents into the states
	y       []float64
	d0      []float64 // eliminated variables with all states at zero
	column  []float64 // scratch, k
	spare   []float64
	sum     float64   // of all variables, which tells whether one is not finite
	v0      []float64 // node voltages right after entry
	early   []float64 // decay at the beginning of a span, see average
	part    []float64 // amp times the mean decay over a span of the modes in parts
	parts   []int32   // the modes for which that is not zero
	from    float64   // the span that part is valid for
	to      float64
	rest    float64 // from here on nothing moves, +Inf where something does
	sway    float64 // no node moves by more than that from here on
	flowing bool    // offset and amp are valid
	started bool    // live and next are valid

	live []live
	beta []float64
	next float64 // the next event, +Inf for none
	who  int     // index into live
	upTo float64 // the instant up to which next is known
}

// excite computes the instant after entry: the charges of the states from the
// capacitors, the currents of the sources, and the node voltages.
func (s *Sim) excite(sh *shape, sol *solution) {
	m := sol.m
	clear(sol.current)
	s.inject(sh, sol.current)
	sol.base.sink(sol.current)
	s.charges(sh, sol)
	sol.gather()
	for i, node := range sol.out {
		sol.d0[i] = sol.current[node]
	}
	for j, node := range sol.order {
		sol.force[j] = sol.current[node]
	}
	sol.press()
	sol.settleOut(sol.d0)
	copy(sol.y, sol.q)
	sol.uncharge(sol.y)
	y, column := sol.y[:m], sol.column
	sol.sum = 0
	for i, x := range sol.d0[:len(column)] {
		for j, w := range sol.w[i*m:][:m] {
			x -= w * y[j]
		}
		column[i] = x
		sol.sum += x
	}
	for _, x := range y {
		sol.sum += x
	}
	copy(sol.spare, y)
	sol.lift(sol.spare, sol.column, sol.v0)
	sol.base.raise(sol.v0, sol.current)
	sol.since, sol.at = s.now, math.NaN()
	sol.flowing, sol.started = false, false
}

// charges computes those of the states from what the capacitors hold.
func (s *Sim) charges(sh *shape, sol *solution) {
	clear(sol.q)
	for i := range sol.charge {
		e := &sol.charge[i]
		volts := 0.0
		if at := int(e.at); at < len(sh.caps) {
			volts = s.elements[sh.caps[at]].volts
		} else {
			volts = s.volts[sh.nodes[sol.held[at-len(sh.caps)]]]
		}
		sol.q[e.state] += e.value * volts
	}
}

// press takes from the currents into the states what the eliminated variables
// carry away: force -= U d0. Most of these have no source.
func (sol *solution) press() {
	m, k := sol.m, sol.k
	for i, x := range sol.d0 {
		switch {
		case x == 0:
		case sol.symmetric:
			for j, w := range sol.w[i*m : i*m+m] {
				sol.force[j] -= w * x
			}
		default:
			for j := range sol.force {
				sol.force[j] -= sol.u[j*k+i] * x
			}
		}
	}
}

// rise computes dv/dt of all nodes right after entry, before the modes are
// known: C y' = f - S y.
func (sol *solution) rise(into []float64) {
	m := sol.m
	slope := sol.spare
	for i := range slope {
		slope[i] = sol.force[i]
		for j, x := range sol.s[i*m : i*m+m] {
			slope[i] -= x * sol.y[j]
		}
	}
	sol.uncharge(slope)
	for i := range sol.out {
		x := 0.0
		for j, w := range sol.w[i*m : i*m+m] {
			x -= w * slope[j]
		}
		sol.column[i] = x
	}
	sol.lift(slope, sol.column, into)
	sol.base.raise(into, nil)
}

// gather turns currents into nodes into those of states and eliminated
// variables, [P D]' current.
func (sol *solution) gather() {
	m, n, c := sol.m, int32(sol.n), sol.current
	for _, i := range sol.followers {
		if r := sol.rep[i]; r < n {
			c[r] += c[sol.out[i]]
		}
	}
	for j := m - 1; j >= 0; j-- {
		if up := sol.parent[j]; up < n {
			c[up] += c[sol.order[j]]
		}
	}
	for i := range sol.shares {
		e := &sol.shares[i]
		c[sol.out[e.at]] -= e.value * c[sol.order[e.state]]
	}
}

// inject adds the currents that the sources of an island drive into its nodes.
func (s *Sim) inject(sh *shape, into []float64) {
	for k := range sh.sources {
		at := &sh.sources[k]
		e := &s.elements[at.element]
		if e.charger != nil {
			bat, quiescent := e.charger.drives()
			into[at.a] -= bat + quiescent
			into[at.b] += bat
			into[at.c] += quiescent
		} else if i := e.law.amperes; i != 0 {
			into[at.a] -= i
			into[at.b] += i
		}
	}
}

func (s *Sim) shapeOf(p *partition, node Node) *shape { return p.shapes[p.island[node]] }

// flow turns the entry into offsets and amplitudes.
func (sol *solution) flow() {
	m := sol.m
	clear(sol.y)
	sol.lift(sol.y, sol.d0, sol.offset)
	sol.acts, sol.rates, sol.slow, sol.amp = sol.acts[:0], sol.rates[:0], sol.slow[:0], sol.amp[:0]
	sol.rest, sol.sway = sol.since, 0
	q, force := sol.q[:m], sol.force[:m]
	for j, rate := range sol.lambda[:m] {
		z, push := 0.0, 0.0
		for i, f := range sol.f[j*m : j*m+m] {
			z += f * q[i]
			push += f * force[i]
		}
		rest := push / rate
		slow := rate < slowRate || math.Abs(rest)*sol.reach[j] > farVolts
		amp, least := z-rest, muteVolts
		if slow {
			amp, rest, least = -(push - rate*z), z, muteVolts/muteSeconds
		}
		sol.spare[j] = rest
		if math.Abs(amp)*sol.reach[j] < least {
			continue
		}
		sol.acts, sol.rates = append(sol.acts, int32(j)), append(sol.rates, rate)
		sol.slow, sol.amp = append(sol.slow, slow), append(sol.amp, amp)
		if slow {
			sol.rest, sol.sway = math.Inf(1), math.Inf(1)
		} else {
			sol.rest = max(sol.rest, sol.since+gone/rate)
			sol.sway += math.Abs(amp) * sol.reach[j]
		}
	}
	n := len(sol.acts)
	sol.decay, sol.early = sol.decay[:n], sol.early[:n]
	sol.ends(sol.order)
	sol.ends(sol.out)
	sol.from = math.NaN()
	sol.base.raise(sol.offset, sol.current)
	sol.flowing = true
}

// ends finds where some nodes come to rest.
func (sol *solution) ends(nodes []int32) {
	m := sol.m
	rest := sol.spare[:m]
	for _, i := range nodes {
		sum := sol.offset[i]
		for j, b := range sol.b[int(i)*m:][:m] {
			sum += b * rest[j]
		}
		sol.offset[i] = sum
	}
}

// stays tells whether the voltage from one local node to another stays within bounds
// from here on: each mode goes from what it contributes now to nothing, but for a slow
// one.
func (sol *solution) stays(a, b int32, low, high float64) bool {
	end := sol.offset[a] - sol.offset[b]
	if end-2*sol.sway >= low && end+2*sol.sway <= high {
		return true
	}
	if end < low || end > high {
		return false
	}
	m, amp := sol.m, sol.amp[:len(sol.acts)]
	least, most := end, end
	from, to := sol.b[int(b)*m:][:m], sol.b[int(a)*m:][:m]
	for q, j := range sol.acts {
		switch x := (to[j] - from[j]) * amp[q]; {
		case x == 0:
		case sol.slow[q]:
			return false
		case x < 0:
			least += x
		default:
			most += x
		}
	}
	return least >= low && most <= high
}

// A mode that moves no node by more than muteVolts, or that grows to as much
// only after muteSeconds, is left out: that is a hundredth of ConditionVolts.
const (
	muteVolts   = 1e-12
	muteSeconds = 1e6
)

// gone is the exponent beyond which a decay is taken as zero: e^-45 of the
// largest deviation is below the rounding of any voltage.
const gone = 45

// decays evaluates the modes that act at the time after entry.
func (sol *solution) decays(after float64, into []float64) {
	rates := sol.rates
	slow := sol.slow[:len(rates)]
	into = into[:len(rates)]
	if after == 0 {
		for q := range into {
			into[q] = 1
			if slow[q] {
				into[q] = 0
			}
		}
		return
	}
	for q, rate := range rates {
		x := rate * after
		if !slow[q] {
			into[q] = 0
			if x <= gone {
				into[q] = math.Exp(-x)
			}
			continue
		}
		into[q] = -after
		if math.Abs(x) >= 1e-18 {
			into[q] = math.Expm1(-x) / rate
		}
	}
}

// slopes evaluates the time derivative of these modes from their values.
func (sol *solution) slopes(decay, into []float64) {
	rates := sol.rates
	slow, decay, into := sol.slow[:len(rates)], decay[:len(rates)], into[:len(rates)]
	for q, rate := range rates {
		into[q] = -rate * decay[q]
		if slow[q] {
			into[q]--
		}
	}
}

// sample returns the voltage of a local node at an instant.
func (sol *solution) sample(node int32, t float64) float64 {
	if t == sol.since {
		return sol.v0[node]
	}
	if t >= sol.rest {
		return sol.offset[node]
	}
	if t != sol.at {
		sol.arrive(t)
	}
	return sol.course(node)
}

// arrive evaluates the modes at an instant.
func (sol *solution) arrive(t float64) {
	sol.decays(t-sol.since, sol.decay)
	busy, weight, acts, amp := sol.busy[:0], sol.weight[:0], sol.acts, sol.amp
	for q, d := range sol.decay {
		if d != 0 {
			busy, weight = append(busy, acts[q]), append(weight, amp[q]*d)
		}
	}
	sol.at, sol.busy, sol.weight = t, busy, weight
}

// course is the voltage of a local node at the instant that was arrived at.
func (sol *solution) course(node int32) float64 {
	sum, row := sol.offset[node], sol.b[int(node)*sol.m:]
	weight := sol.weight[:len(sol.busy)]
	for i, j := range sol.busy {
		sum += row[j] * weight[i]
	}
	return sum
}

// all writes the voltages of all nodes of an island at an instant.
func (sol *solution) all(t float64, nodes []int32, into []float64) {
	known := sol.offset
	if t == sol.since {
		known = sol.v0
	} else if t < sol.rest && t != sol.at {
		sol.arrive(t)
	}
	if t == sol.since || t >= sol.rest || len(sol.busy) == 0 {
		for i, n := range nodes {
			into[n] = known[i]
		}
		return
	}
	m, busy, weight := sol.m, sol.busy, sol.weight[:len(sol.busy)]
	for i, n := range nodes {
		sum, row := known[i], sol.b[i*m:i*m+m]
		for q, j := range busy {
			sum += row[j] * weight[q]
		}
		into[n] = sum
	}
}
