package circuit

import (
	"math"
	"slices"
)

// live is a condition that may still be violated in the present run, as
//
//	h(t) = fixed + sum over the modes that act of beta*decay(t)
//
// with the slack of ConditionVolts added, so that its first negative instant is
// the event.
type live struct {
	fixed float64
	beta  []float64
	owner int32
	which int8
	watch bool
}

// maxDepth bounds the bisection: 60 halvings of the logarithm of time.
const maxDepth = 80

// seeker finds the first instant at which a live condition turns negative. Over
// any interval each decay only falls, so a sum of them is bounded by its values
// at the two ends, positive and negative terms apart; likewise its slope. An
// interval is discarded when the bound excludes a zero, solved when the slope
// keeps its sign, and else split. Nothing is sampled and hoped for.
type seeker struct {
	sol      *solution
	l        *live
	from, to float64   // counted from the entry
	ends     []float64 // decays at interval ends, a stack of rows
	slope    []float64
}

func (k *seeker) row(i int) []float64 {
	m := len(k.sol.acts)
	for len(k.ends) < (i+1)*m {
		k.ends = append(k.ends, 0)
	}
	return k.ends[i*m : (i+1)*m]
}

func (k *seeker) value(decay []float64) float64 {
	sum := k.l.fixed
	for j, b := range k.l.beta {
		sum += b * decay[j]
	}
	return sum
}

// begin sets the stretch (from, to] of a solution in which conditions are looked at.
func (k *seeker) begin(sol *solution, from, to float64) {
	k.sol = sol
	k.row(maxDepth + 3)
	if m := len(sol.acts); cap(k.slope) < 2*m {
		k.slope = make([]float64, 2*m)
	}
	k.from = from
	sol.decays(from, k.row(0))
	k.until(to)
}

// until sets the end of the stretch.
func (k *seeker) until(to float64) {
	k.to = to
	k.sol.decays(to, k.row(1))
}

// first returns the first instant of the stretch at which a condition is violated,
// or +Inf. At its beginning it must hold.
func (k *seeker) first(l *live) float64 {
	k.l = l
	start := k.row(0)
	// An entry may leave the condition a little below zero (rounding, healing,
	// loosen); it is then violated when it gets as far below again.
	fixed := l.fixed
	if h := k.value(start); h < 0 {
		l.fixed -= 2 * h
	}
	t := k.search(k.from, start, k.to, k.row(1), 2)
	l.fixed = fixed
	return t
}

func (k *seeker) search(a float64, da []float64, b float64, db []float64, depth int) float64 {
	least := k.l.fixed
	for j, x := range k.l.beta {
		if x > 0 {
			least += x * db[j]
		} else {
			least += x * da[j]
		}
	}
	if least >= 0 {
		return math.Inf(1)
	}
	low, high := k.slopeBounds(da, db)
	if low >= 0 {
		return math.Inf(1)
	}
	if high <= 0 {
		if k.value(db) >= 0 {
			return math.Inf(1)
		}
		return k.falling(a, da, b, depth)
	}
	if depth >= maxDepth || b-a <= 1e-13*b+1e-16 {
		if k.value(db) < 0 {
			return b
		}
		return math.Inf(1)
	}
	mid := between(a, b)
	dm := k.row(depth)
	k.sol.decays(mid, dm)
	if t := k.search(a, da, mid, dm, depth+1); !math.IsInf(t, 1) {
		return t
	}
	return k.search(mid, dm, b, db, depth+1)
}

// between splits an interval near its start, in ratio where it spans decades.
func between(a, b float64) float64 {
	switch {
	case a == 0:
		return b / 64
	case b > 4*a:
		return math.Sqrt(a) * math.Sqrt(b)
	}
	return a + (b-a)/2
}

func (k *seeker) slopeBounds(da, db []float64) (low, high float64) {
	m := len(k.sol.acts)
	sa, sb := k.slope[:m], k.slope[m:2*m]
	k.sol.slopes(da, sa)
	k.sol.slopes(db, sb)
	for j, x := range k.l.beta {
		p, q := x*sa[j], x*sb[j]
		if p > q {
			p, q = q, p
		}
		low += p
		high += q
	}
	return low, high
}

// falling finds the zero of a condition that only falls from a to b, by Newton
// steps kept inside the bracket, and by halving it where they do not at least
// halve from one to the next (Press and others, Numerical Recipes, 9.4, rtsafe).
// It ends where the value is down to its rounding: nothing tells two instants
// apart then. What it returns is an instant at which the condition is violated.
func (k *seeker) falling(a float64, da []float64, b float64, depth int) float64 {
	m := len(k.sol.acts)
	d := k.row(depth)
	t, before, least := k.guess(a, da, b), b-a, math.Inf(-1)
	for range 200 {
		k.sol.decays(t, d)
		h, rounding := k.value(d), math.Abs(k.l.fixed)
		for j, x := range k.l.beta {
			rounding += math.Abs(x * d[j])
		}
		rounding *= 4 * epsilon
		if h >= 0 {
			a = t
		} else {
			b, least = t, h
		}
		k.sol.slopes(d, k.slope[:m])
		slope := 0.0
		for j, x := range k.l.beta {
			slope += x * k.slope[j]
		}
		// At the end of the bracket the value is down to its rounding.
		if b-a <= 1e-15*b || least >= -8*rounding {
			break
		}
		next := t - h/slope
		if math.Abs(h) <= rounding {
			// From one side of the zero to the other.
			next = t - 4*rounding/slope
		}
		step := math.Abs(next - t)
		if !(next > a && next < b) || step > before/2 {
			next = between(a, b)
			if next <= a || next >= b {
				break
			}
			step = math.Abs(next - t)
		}
		t, before = next, step
	}
	return b
}

// guess is where the slowest mode alone would bring a condition to zero, which it
// does once the others are gone; or else where one that goes on as it begins would be.
func (k *seeker) guess(a float64, da []float64, b float64) float64 {
	if t := k.slowest(); t > a && t < b {
		return t
	}
	rate := k.slope[:len(k.sol.acts)]
	k.sol.slopes(da, rate)
	h, slope := k.value(da), 0.0
	for j, x := range k.l.beta {
		slope += x * rate[j]
	}
	if t := a - h/slope; t > a && t < b {
		return t
	}
	return between(a, b)
}

// slowest is where the slowest mode alone would bring a condition to zero, NaN if
// it never does.
func (k *seeker) slowest() float64 {
	last := -1
	for j, x := range k.l.beta {
		if x != 0 && (last < 0 || k.sol.rates[j] < k.sol.rates[last]) {
			last = j
		}
	}
	if last < 0 {
		return math.NaN()
	}
	rate, ratio := k.sol.rates[last], -k.l.fixed/k.l.beta[last]
	if !k.sol.slow[last] {
		return -math.Log(ratio) / rate
	}
	// decay = -(1-exp(-rate t))/rate
	if x := rate * ratio; math.Abs(x) > 1e-9 {
		return -math.Log1p(x) / rate
	}
	return -ratio
}

// epsilon is the rounding of a float64: 2^-53.
const epsilon = 0x1p-53

// horizon is as good as for ever: thirty years.
const horizon = 1e9

// listen makes the conditions of an island live, dropping those that can never
// be violated in this run.
func (s *Sim) listen(sh *shape, sol *solution, p *partition) {
	m := len(sol.acts)
	sol.live, sol.beta = sol.live[:0], sol.beta[:0]
	sol.next, sol.who, sol.upTo, sol.started = math.Inf(1), -1, math.Inf(1), true
	if m == 0 {
		return
	}
	s.list = s.list[:0]
	for k := range sh.pieces {
		at := &sh.pieces[k]
		e := &s.elements[at.element]
		if e.charger != nil || !sol.stays(at.a, at.b, e.law.low, e.law.high) {
			s.list = e.conditions(at.element, s.list)
		}
	}
	island := p.island[sh.nodes[0]]
	for i := range s.watches {
		if w := &s.watches[i]; w.on && p.island[w.node] == island { // that of Ground is -1
			s.list = append(s.list, w.condition(int32(i)))
		}
	}
	mem, _ := s.memoryOf(sh)
	if need := len(s.list) + spareLives; cap(sol.live) < need {
		sol.live = mem.lives.take(need)[:0]
	}
	if need := (len(s.list) + spareLives) * m; cap(sol.beta) < need {
		sol.beta = mem.floats.take(need)[:0]
	}
	s.loosen(sh, 0)
	for i := range s.list {
		if !s.list[i].watch {
			s.list[i].fixed += s.slack
		}
		sol.enlist(&s.list[i], p)
	}
	s.slack = 0
	if len(sol.live) > 0 {
		sol.upTo = s.now
	}
}

// spareLives is how many watches may come to a run without more memory.
const spareLives = 4

// enlist adds a condition to the live ones unless a bound over all time excludes
// a violation. It tells whether it did.
func (sol *solution) enlist(c *condition, p *partition) bool {
	fixed, sway := c.fixed, 0.0
	for i, w := range c.weight {
		if w != 0 && c.node[i] != Ground {
			fixed += w * sol.offset[p.local[c.node[i]]]
			sway += math.Abs(w) * sol.sway
		}
	}
	if fixed >= sway {
		return false
	}
	m, acts, start := sol.m, sol.acts, len(sol.beta)
	sol.beta = slices.Grow(sol.beta, len(acts))[:start+len(acts)]
	beta, amp := sol.beta[start:][:len(acts):len(acts)], sol.amp[:len(acts)]
	clear(beta)
	rounding := 0.0
	for i, w := range c.weight {
		if w == 0 || c.node[i] == Ground {
			continue
		}
		node := int(p.local[c.node[i]])
		rounding += math.Abs(w * sol.v0[node])
		row := sol.b[node*m:][:m]
		for q, j := range acts {
			beta[q] += w * row[j] * amp[q]
		}
	}
	fixed += ConditionVolts + 1e-12*(rounding+math.Abs(c.fixed))
	least := fixed
	for q, x := range beta {
		switch {
		case !sol.slow[q]:
			if x < 0 {
				least += x
			}
		case x > 0 && sol.rates[q] > 0:
			least -= x / sol.rates[q]
		case x > 0:
			least = math.Inf(-1)
		}
	}
	if least >= 0 {
		sol.beta = sol.beta[:start]
		return false
	}
	sol.live = append(sol.live, live{fixed: fixed, beta: beta, owner: c.owner, which: c.which, watch: c.watch})
	return true
}

// attend makes a watch live in the present run of its island, where that is listened
// to already: what is known of the other conditions stays.
func (s *Sim) attend(id int32) {
	w := &s.watches[id]
	sol := s.heard(w.node)
	if sol == nil || len(sol.acts) == 0 {
		return
	}
	c := w.condition(id)
	if !sol.enlist(&c, s.part) {
		return
	}
	last := len(sol.live) - 1
	until := min(sol.upTo, sol.next)
	if last == 0 {
		until, sol.upTo = s.now, s.now
	}
	if until > s.now {
		s.seek.begin(sol, s.now-sol.since, until-sol.since)
		if after := s.seek.first(&sol.live[last]); !math.IsInf(after, 1) {
			sol.next, sol.who, sol.upTo = notBefore(sol.since, after), last, sol.since+after
			s.quietTo = math.Inf(-1)
		}
		return
	}
	s.quietTo = math.Inf(-1)
}

// forget takes a watch out of the present run of its island.
func (s *Sim) forget(id int32) {
	sol := s.heard(s.watches[id].node)
	if sol == nil {
		return
	}
	for i := range sol.live {
		if l := &sol.live[i]; !l.watch || l.owner != id {
			continue
		}
		last := len(sol.live) - 1
		switch sol.who {
		case i: // no other condition was violated before
			sol.next, sol.who = math.Inf(1), -1
		case last:
			sol.who = i
		}
		sol.live[i] = sol.live[last]
		sol.live = sol.live[:last]
		return
	}
}

// heard returns the run of the island of a node if it is listened to, or nil.
func (s *Sim) heard(n Node) *solution {
	if n == Ground || s.part == nil {
		return nil
	}
	if sol := s.shapeOf(s.part, n).active; sol != nil && sol.started {
		return sol
	}
	return nil
}

// look extends the knowledge of the next event of an island up to t at least.
func (s *Sim) look(sol *solution, t float64) {
	if sol.upTo >= t || !math.IsInf(sol.next, 1) {
		return
	}
	from := sol.upTo - sol.since
	to := 2*(t-sol.since) + 1e-6
	if to > horizon {
		to = max(horizon, t-sol.since)
	}
	s.seek.begin(sol, from, to)
	first := math.Inf(1)
	for i := range sol.live {
		if after := s.seek.first(&sol.live[i]); after < first {
			sol.next, sol.who = notBefore(sol.since, after), i
			first, to = after, after
			s.seek.until(to)
		}
	}
	sol.upTo = sol.since + to
}

// notBefore returns since+after rounded so that the condition is violated there:
// at 2 s the clock counts in 4e-16 s, in which a fast node moves by more than
// ConditionVolts, and an element that changed too early would change back.
func notBefore(since, after float64) float64 {
	t := since + after
	for t-since < after {
		t = math.Nextafter(t, math.Inf(1))
	}
	return t
}
