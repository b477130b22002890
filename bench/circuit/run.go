package circuit

import "math"

// run is the course of an island since its last entry: node i is at
//
//	v(t) = offset[i] + sum over modes j of b[i][j] * amp[j] * decay[j](t-since)
//
// where decay falls from 1 to 0 as exp(-rate t), or for a slow mode from 0
// downwards as -(1-exp(-rate t))/rate. Both only ever fall, with slopes that
// only ever shrink (or grow): the bounds in crossing.go rest on that.
type run struct {
	since   float64
	at      float64 // the instant decay was last evaluated for
	offset  []float64
	amp     []float64
	decay   []float64
	weight  []float64 // m: amp times decay
	busy    []int32   // the modes whose weight is not zero
	current []float64 // currents into the nodes
	q       []float64 // charges of the states at entry
	force   []float64 // currents into the states
	y       []float64
	d0      []float64 // eliminated variables with all states at zero
	column  []float64 // scratch, k
	spare   []float64
	v0      []float64 // node voltages right after entry
	slow    []bool    // m: the growing form is used
	least   []float64 // n: a bound of the node from here on, -Inf where a slow mode moves it
	most    []float64
	early   []float64 // m: decay at the beginning of a span, see average
	part    []float64 // m: amp times the mean decay over a span
	parts   []int32   // the modes that part is not zero for
	from    float64   // the span that part is valid for
	to      float64
	rest    float64 // from here on nothing moves, +Inf where something does
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
func (s *Sim) excite(sh *shape, sol *solution, p *partition) {
	m := sol.m
	clear(sol.current)
	s.inject(sh, sol.current, p)
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
	upperAndLower(sol.chol, m, sol.y)
	y, column := sol.y[:m], sol.column
	for i, x := range sol.d0[:len(column)] {
		for j, w := range sol.w[i*m:][:m] {
			x -= w * y[j]
		}
		column[i] = x
	}
	copy(sol.spare, y)
	sol.lift(sol.spare, sol.column, sol.v0, 1)
	sol.base.raise(sol.v0, sol.current)
	sol.since, sol.at = s.now, math.NaN()
	sol.flowing, sol.started = false, false
}

// charges computes those of the states from what the capacitors hold.
func (s *Sim) charges(sh *shape, sol *solution) {
	q := sol.q
	clear(q)
	add := func(c int, volts float64) {
		for i := range q {
			q[i] += sol.charge[i*sol.caps+c] * volts
		}
	}
	for c, e := range sh.caps {
		if v := s.elements[e].volts; v != 0 {
			add(c, v)
		}
	}
	for h, node := range sol.held {
		add(len(sh.caps)+h, s.volts[sh.nodes[node]])
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
	upperAndLower(sol.chol, m, slope)
	for i := range sol.out {
		x := 0.0
		for j, w := range sol.w[i*m : i*m+m] {
			x -= w * slope[j]
		}
		sol.column[i] = x
	}
	sol.lift(slope, sol.column, into, 1)
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
	for _, i := range sol.followers {
		for j, x := range sol.share[int(i)*m:][:m] {
			c[sol.out[i]] -= x * c[sol.order[j]]
		}
	}
}

// inject adds the currents that the sources of an island drive into its nodes.
func (s *Sim) inject(sh *shape, into []float64, p *partition) {
	drive := func(node Node, i float64) {
		if node != Ground && s.shapeOf(p, node) == sh {
			into[p.local[node]] += i
		}
	}
	for _, id := range sh.sources {
		e := &s.elements[id]
		if e.kind == KindCharger {
			e.charger.drive(e, drive)
			continue
		}
		if _, i := e.line(); i != 0 {
			drive(e.a, -i)
			drive(e.b, i)
		}
	}
}

func (s *Sim) shapeOf(p *partition, node Node) *shape { return p.shapes[p.island[node]] }

// flow turns the entry into offsets and amplitudes.
func (sol *solution) flow() {
	m := sol.m
	for j := range sol.y {
		sol.y[j] = 0
	}
	sol.lift(sol.y, sol.d0, sol.offset, 1)
	for j := 0; j < m; j++ {
		z, push := 0.0, 0.0
		for i, f := range sol.f[j*m : j*m+m] {
			z += f * sol.q[i]
			push += f * sol.force[i]
		}
		rest := push / sol.lambda[j]
		sol.slow[j] = sol.lambda[j] < slowRate || math.Abs(rest)*sol.reach[j] > farVolts
		least := muteVolts
		if sol.slow[j] {
			rest, least = z, muteVolts/muteSeconds
			sol.amp[j] = -(push - sol.lambda[j]*z)
		} else {
			sol.amp[j] = z - rest
		}
		if math.Abs(sol.amp[j])*sol.reach[j] < least {
			sol.amp[j] = 0
		}
		sol.spare[j] = rest
	}
	sol.ends(sol.order)
	sol.ends(sol.out)
	sol.from = math.NaN()
	sol.rest = sol.since
	for j, rate := range sol.lambda {
		if sol.amp[j] == 0 {
			continue
		}
		if sol.slow[j] {
			sol.unbounded(j, sol.order)
			sol.unbounded(j, sol.out)
			sol.rest = math.Inf(1)
		} else {
			sol.rest = max(sol.rest, sol.since+gone/rate)
		}
	}
	sol.raiseEnds()
	sol.flowing = true
}

// raiseEnds gives the nodes that are gone their ends and bounds: each lies between
// those that it follows.
func (sol *solution) raiseEnds() {
	offset, least, most := sol.offset, sol.least[:len(sol.offset)], sol.most[:len(sol.offset)]
	for i := len(sol.base.steps) - 1; i >= 0; i-- {
		t := &sol.base.steps[i]
		x := sol.current[t.node] * t.ohms
		end, low, high := x, x, x
		for k, j := range t.near {
			share := t.share[k]
			end += share * offset[j]
			low += share * least[j]
			high += share * most[j]
		}
		offset[t.node], least[t.node], most[t.node] = end, low, high
	}
}

// ends finds where some nodes come to rest, and their bounds on the way.
func (sol *solution) ends(nodes []int32) {
	m := sol.m
	amp, rest := sol.amp[:m], sol.spare[:m]
	for _, i := range nodes {
		// Each mode goes from b amp to 0: what is below the end and what is above
		// add up to the way from here, and apart to its length.
		sum, way, length := sol.offset[i], 0.0, 0.0
		for j, b := range sol.b[int(i)*m:][:m] {
			x := b * amp[j]
			sum += b * rest[j]
			way += x
			length += math.Abs(x)
		}
		sol.offset[i], sol.least[i], sol.most[i] = sum, sum+(way-length)/2, sum+(way+length)/2
	}
}

// unbounded takes the bounds from the nodes that a slow mode moves.
func (sol *solution) unbounded(j int, nodes []int32) {
	for _, i := range nodes {
		if sol.b[int(i)*sol.m+j] != 0 {
			sol.least[i], sol.most[i] = math.Inf(-1), math.Inf(1)
		}
	}
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

// decays evaluates every mode at the time after entry.
func (sol *solution) decays(after float64, into []float64) {
	m := sol.m
	lambda, amp, slow := sol.lambda[:m], sol.amp[:m], sol.slow[:m]
	into = into[:m]
	for j, rate := range lambda {
		switch x := rate * after; {
		case amp[j] == 0:
			into[j] = 0
		case slow[j] && math.Abs(x) < 1e-18:
			into[j] = -after
		case slow[j]:
			into[j] = math.Expm1(-x) / rate
		case x > gone:
			into[j] = 0
		case x == 0:
			into[j] = 1
		default:
			into[j] = math.Exp(-x)
		}
	}
}

// slopes evaluates the time derivative of every mode from its value.
func (sol *solution) slopes(decay, into []float64) {
	for j, rate := range sol.lambda {
		if sol.slow[j] {
			into[j] = -1 - rate*decay[j]
		} else {
			into[j] = -rate * decay[j]
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

// arrive evaluates every mode at an instant.
func (sol *solution) arrive(t float64) {
	sol.decays(t-sol.since, sol.decay)
	busy, weight, amp := sol.busy[:0], sol.weight, sol.amp[:len(sol.weight)]
	for j, d := range sol.decay[:len(weight)] {
		if weight[j] = amp[j] * d; weight[j] != 0 {
			busy = append(busy, int32(j))
		}
	}
	sol.at, sol.busy = t, busy
}

// course is the voltage of a local node at the instant that was arrived at.
func (sol *solution) course(node int32) float64 {
	sum, row := sol.offset[node], sol.b[int(node)*sol.m:]
	for _, j := range sol.busy {
		sum += row[j] * sol.weight[j]
	}
	return sum
}

// all writes the voltages of all nodes of an island at an instant.
func (sol *solution) all(t float64, nodes []int32, into []float64) {
	known := sol.offset
	switch {
	case t == sol.since:
		known = sol.v0
	case t < sol.rest:
		if t != sol.at {
			sol.arrive(t)
		}
		for i, n := range nodes {
			into[n] = sol.course(int32(i))
		}
		return
	}
	for i, n := range nodes {
		into[n] = known[i]
	}
}
