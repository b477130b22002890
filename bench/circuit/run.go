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
	current []float64 // currents into the nodes
	q       []float64 // charges of the states at entry
	force   []float64 // currents into the states
	y       []float64
	a0      []float64
	spare   []float64
	v0      []float64 // node voltages right after entry
	flowing bool      // offset and amp are valid
	started bool      // live and next are valid

	live []live
	beta []float64
	next float64 // the next event, +Inf for none
	who  int     // index into live
	upTo float64 // the instant up to which next is known
}

// excite computes the instant after entry: the charges of the states from the
// capacitors, the currents of the sources, and the node voltages.
func (s *Sim) excite(sh *shape, sol *solution, p *partition) {
	m, k := sol.m, sol.k
	for i := range sol.current {
		sol.current[i] = 0
	}
	s.inject(sh, sol.current, p)
	for i := 0; i < m; i++ {
		sum := 0.0
		row := sol.charge[i*sol.caps : (i+1)*sol.caps]
		for c, e := range sh.caps {
			if row[c] != 0 {
				sum += row[c] * s.elements[e].volts
			}
		}
		for h, node := range sol.held {
			sum += row[len(sh.caps)+h] * s.volts[sh.nodes[node]]
		}
		sol.q[i] = sum
	}
	for j := m - 1; j >= 0; j-- {
		if up := sol.parent[j]; int(up) < sol.n {
			sol.current[up] += sol.current[sol.order[j]]
		}
	}
	for i, node := range sol.out {
		sol.a0[i] = sol.current[node]
	}
	for j, node := range sol.order {
		sum := sol.current[node]
		for i, u := range sol.u[j*k : j*k+k] {
			sum -= u * sol.a0[i]
		}
		sol.force[j] = sum
	}
	solve(sol.lu, k, sol.swaps, sol.a0)
	copy(sol.y, sol.q)
	lowerSolve(sol.chol, m, sol.y, 1)
	upperSolve(sol.chol, m, sol.y, 1)
	for i, node := range sol.out {
		x := sol.a0[i]
		for j, w := range sol.w[i*m : i*m+m] {
			x -= w * sol.y[j]
		}
		sol.v0[node] = x
	}
	for j, node := range sol.order {
		x := sol.y[j]
		if up := sol.parent[j]; int(up) < sol.n {
			x += sol.v0[up]
		}
		sol.v0[node] = x
	}
	sol.since, sol.at = s.now, math.NaN()
	sol.flowing, sol.started = false, false
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
	for i, node := range sol.out {
		sol.offset[node] = sol.a0[i]
	}
	for j, node := range sol.order {
		x := 0.0
		if up := sol.parent[j]; int(up) < sol.n {
			x = sol.offset[up]
		}
		sol.offset[node] = x
	}
	for j := 0; j < m; j++ {
		z, push := 0.0, 0.0
		for i, f := range sol.f[j*m : j*m+m] {
			z += f * sol.q[i]
			push += f * sol.force[i]
		}
		rest := z
		if sol.slow[j] {
			sol.amp[j] = -(push - sol.lambda[j]*z)
		} else {
			rest = push / sol.lambda[j]
			sol.amp[j] = z - rest
		}
		sol.spare[j] = rest
	}
	for i := range sol.offset {
		sum := sol.offset[i]
		for j, b := range sol.b[i*m : i*m+m] {
			sum += b * sol.spare[j]
		}
		sol.offset[i] = sum
	}
	sol.flowing = true
}

// decays evaluates every mode at the time after entry.
func (sol *solution) decays(after float64, into []float64) {
	for j, rate := range sol.lambda {
		switch x := rate * after; {
		case sol.slow[j] && math.Abs(x) < 1e-18:
			into[j] = -after
		case sol.slow[j]:
			into[j] = math.Expm1(-x) / rate
		case x > 700:
			into[j] = 0
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
	if t != sol.at {
		sol.decays(t-sol.since, sol.decay)
		sol.at = t
	}
	m := sol.m
	sum := sol.offset[node]
	row := sol.b[int(node)*m : int(node)*m+m]
	for j, d := range sol.decay {
		sum += row[j] * sol.amp[j] * d
	}
	return sum
}
