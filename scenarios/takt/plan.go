package takt

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/bench/wiring"
	"sinkproof/scenarios"
)

// Sample is a unit as it was seen to behave: what it took in each round, and in
// which it failed a check. Weight is its share of the mix.
type Sample struct {
	Weight float64
	// Dwell is the time in each round beside the way to it, in seconds, by the
	// round's name.
	Dwell map[string]float64
	// Failed names the rounds in which a check failed.
	Failed []string
}

// Prices say what an order costs beside time.
type Prices struct {
	// Operation is what one relay operation is worth, in seconds.
	Operation float64
}

// Plan is an order of rounds.
type Plan struct {
	Order []string `json:"order"`
	// Exact tells that no other order that the scenario allows costs less.
	Exact bool `json:"exact"`
	// Sets is how many sets of rounds were looked at.
	Sets int `json:"sets"`
	// Planned and File are what the order costs, and what the scenario's own
	// one does.
	Planned Cost `json:"planned"`
	File    Cost `json:"file"`
}

// Cost is what one run is expected to take over the mix.
type Cost struct {
	Seconds    float64 `json:"seconds"`
	Operations float64 `json:"operations"`
}

// worth is a cost in seconds.
func (c Cost) worth(p Prices) float64 { return c.Seconds + p.Operation*c.Operations }

// mostSets bounds the dynamic programme: 2^16 sets of 16 rounds that nothing
// orders, far beyond the 14 for which every set has room, take some 100 MB.
const mostSets = 1 << 16

// problem is a scenario as the search sees it.
type problem struct {
	prices Prices
	names  []string
	after  []uint64 // sets that must be done before
	behind []uint64 // 0, or a set of which one must be right before
	hazard []bool
	way    [][]Cost // from the end of one round to the beginning of another
	last   []Cost   // from the end of a round to isolated
	first  Cost     // from the nest that was proved empty to the first round
	groups []group
	inside []float64 // relay operations inside of a round
	base   Cost      // of proving the nest empty, and of the way to the first round
	// stops tells that after a fail only hazards are asked.
	stops bool
}

// group are samples that failed in the same rounds.
type group struct {
	failed uint64
	weight float64
	dwell  []float64 // weighted
}

// Best finds the order of a scenario's rounds that costs least over the
// samples. What the empty nest is asked stays first, then the probe; after the
// last round comes isolated.
func (r *Rig) Best(sc *scenarios.Scenario, samples []Sample, prices Prices) (Plan, error) {
	p, err := r.problem(sc, samples, prices)
	if err != nil {
		return Plan{}, err
	}
	own := make([]int, len(p.names))
	for i := range own {
		own[i] = i
	}
	order, sets := p.exact()
	plan := Plan{Exact: order != nil, Sets: sets, File: p.cost(own)}
	if order == nil {
		order = p.improve(own)
	}
	plan.Planned = p.cost(order)
	for _, i := range order {
		plan.Order = append(plan.Order, p.names[i])
	}
	return plan, nil
}

// Expected is what an order costs over the samples.
func (r *Rig) Expected(sc *scenarios.Scenario, samples []Sample) (Cost, error) {
	p, err := r.problem(sc, samples, Prices{})
	if err != nil {
		return Cost{}, err
	}
	own := make([]int, len(p.names))
	for i := range own {
		own[i] = i
	}
	return p.cost(own), nil
}

// mostRounds is how many bits a set has.
const mostRounds = 64

func (r *Rig) problem(sc *scenarios.Scenario, samples []Sample, prices Prices) (*problem, error) {
	rounds := sc.Rounds()
	if len(rounds) == 0 || len(rounds) > mostRounds {
		return nil, fmt.Errorf("plan scenario %s: %d rounds, possible are 1 to %d", sc.Name, len(rounds), mostRounds)
	}
	p := &problem{prices: prices, stops: sc.AfterFail == scenarios.AskHazards}
	index := map[string]int{}
	for i, x := range rounds {
		index[x.Name] = i
		p.names = append(p.names, x.Name)
		p.hazard = append(p.hazard, x.Hazard())
	}
	set := func(names []string) (s uint64) {
		for _, n := range names {
			if i, known := index[n]; known {
				s |= 1 << i
			}
		}
		return s
	}
	for _, x := range rounds {
		p.after = append(p.after, set(x.After))
		p.behind = append(p.behind, set(x.Behind))
	}
	if err := r.ways(p, rounds); err != nil {
		return nil, err
	}
	weight := 0.0
	for _, s := range samples {
		p.add(set(s.Failed), s)
		weight += s.Weight
	}
	empty, closings := r.emptyNest()
	p.base = Cost{weight * (Sum(empty) + p.first.Seconds), weight * (float64(closings) + p.first.Operations)}
	return p, nil
}

// ways computes the edges.
func (r *Rig) ways(p *problem, rounds []scenarios.Round) error {
	isolated, _, ok := r.probeStates()
	if !ok {
		return fmt.Errorf("plan: rig %s has no isolated state", r.wiring.Name)
	}
	first, last := make([]wiring.State, len(rounds)), make([]wiring.State, len(rounds))
	for i, x := range rounds {
		inside := 0
		for j, leg := range x.Legs {
			state, err := r.wiring.Expand(leg.Setting)
			if err != nil {
				return fmt.Errorf("plan round %s: %w", x.Name, err)
			}
			switch {
			case probes(leg):
				inside += r.probeWay(state).Closings
				first[i] = state
			case j == 0:
				first[i] = state
			default:
				inside += r.Way(last[i], state, 0).Closings
			}
			if last[i] = state; probes(leg) {
				if off, err := r.wiring.Expand(probeOff()); err == nil {
					last[i] = off
				}
			}
		}
		p.inside = append(p.inside, float64(inside))
	}
	for i := range rounds {
		edges := make([]Cost, len(rounds))
		for j := range rounds {
			if probes(rounds[j].Legs[0]) {
				continue // the rounds of the empty nest end isolated by themselves
			}
			w := r.Way(last[i], first[j], r.leaves(last[i]))
			edges[j] = Cost{w.Seconds(), float64(w.Closings)}
		}
		p.way = append(p.way, edges)
		w := r.Way(last[i], isolated, r.leaves(last[i]))
		p.last = append(p.last, Cost{w.Seconds(), float64(w.Closings)})
	}
	if !probes(rounds[0].Legs[0]) {
		w := r.Way(isolated, first[0], 0)
		p.first = Cost{w.Seconds(), float64(w.Closings)}
	}
	return nil
}

// add puts a sample into its group.
func (p *problem) add(failed uint64, s Sample) {
	i := slices.IndexFunc(p.groups, func(g group) bool { return g.failed == failed })
	if i < 0 {
		i = len(p.groups)
		p.groups = append(p.groups, group{failed: failed, dwell: make([]float64, len(p.names))})
	}
	g := &p.groups[i]
	g.weight += s.Weight
	for k, name := range p.names {
		g.dwell[k] += s.Weight * s.Dwell[name]
	}
}

// visit is what round k costs after a set, without the way to it, and which
// share of the mix still takes it.
func (p *problem) visit(done uint64, k int) (c Cost, alive float64) {
	for _, g := range p.groups {
		if p.stops && !p.hazard[k] && g.failed&done != 0 {
			continue
		}
		alive += g.weight
		c.Seconds += g.dwell[k]
	}
	c.Operations = alive * p.inside[k]
	return c, alive
}

// going is what the way from one round to another costs a share of the mix.
func (p *problem) going(from, k int, alive float64) Cost {
	return Cost{alive * p.way[from][k].Seconds, alive * p.way[from][k].Operations}
}

func (p *problem) end(k int) Cost {
	weight := 0.0
	for _, g := range p.groups {
		weight += g.weight
	}
	return Cost{weight * p.last[k].Seconds, weight * p.last[k].Operations}
}

func (c Cost) plus(o Cost) Cost { return Cost{c.Seconds + o.Seconds, c.Operations + o.Operations} }

// cost is what an order costs.
func (p *problem) cost(order []int) Cost {
	sum := p.base
	var done uint64
	for i, k := range order {
		c, alive := p.visit(done, k)
		sum = sum.plus(c)
		if i > 0 {
			sum = sum.plus(p.going(order[i-1], k, alive))
		}
		done |= 1 << k
	}
	return sum.plus(p.end(order[len(order)-1]))
}

// may tells whether round k can come after a set, right behind another round.
func (p *problem) may(done uint64, from, k int) bool {
	return done&(1<<k) == 0 && p.after[k]&^done == 0 && (p.behind[k] == 0 || p.behind[k]&(1<<from) != 0)
}

// equal is how far apart two orders may be, in seconds, and cost the same: sums
// of the same parts in another order differ by less.
const equal = 1e-9

// exact is the dynamic programme over sets of rounds (Held and Karp, A Dynamic
// Programming Approach to Sequencing Problems, 1962), over those sets only that
// precedence lets come about: for each set and each round that may be its last,
// what the rest costs at least. What a unit that has failed no longer costs
// depends on the set alone, so it fits in. Of several cheapest orders it is the
// one that stays closest to the file's. The order is nil where there are too
// many sets.
func (p *problem) exact() (order []int, sets int) {
	layers, sets := p.layers()
	if layers == nil {
		return nil, sets
	}
	rest := map[uint64][]float64{}
	for i := len(layers) - 1; i >= 0; i-- {
		for _, done := range layers[i] {
			rest[done] = p.rest(done, rest)
		}
	}
	done, last := uint64(1), 0
	order = []int{0}
	for len(order) < len(p.names) {
		k := p.next(done, last, rest)
		if k < 0 {
			return nil, sets
		}
		order, done, last = append(order, k), done|1<<k, k
	}
	return order, sets
}

// layers lists the sets that can come about, by their size; nil where there are
// too many.
func (p *problem) layers() (layers [][]uint64, sets int) {
	layers = [][]uint64{{1}}
	sets = 1
	for range len(p.names) - 1 {
		known := map[uint64]bool{}
		var next []uint64
		for _, done := range layers[len(layers)-1] {
			for k := range p.names {
				with := done | 1<<k
				if with == done || known[with] || p.after[k]&^done != 0 || p.behind[k] != 0 && p.behind[k]&done == 0 {
					continue
				}
				known[with] = true
				next = append(next, with)
			}
		}
		if sets += len(next); sets > mostSets {
			return nil, sets
		}
		layers = append(layers, next)
	}
	return layers, sets
}

// rest is what remains to be paid after a set, by the round that was last.
func (p *problem) rest(done uint64, of map[uint64][]float64) []float64 {
	out := make([]float64, len(p.names))
	for last := range out {
		if out[last] = math.Inf(1); done == p.full() {
			out[last] = p.end(last).worth(p.prices)
		}
	}
	for k := range p.names {
		after, known := of[done|1<<k]
		if done&(1<<k) != 0 || !known || math.IsInf(after[k], 1) {
			continue
		}
		c, alive := p.visit(done, k)
		for last := range out {
			if done&(1<<last) != 0 && p.may(done, last, k) {
				out[last] = min(out[last], c.plus(p.going(last, k, alive)).worth(p.prices)+after[k])
			}
		}
	}
	return out
}

// next is the first round of the file that a cheapest order goes on with; -1
// where nothing is allowed.
func (p *problem) next(done uint64, last int, rest map[uint64][]float64) int {
	least := rest[done][last]
	for k := range p.names {
		after, known := rest[done|1<<k]
		if !known || !p.may(done, last, k) || math.IsInf(after[k], 1) {
			continue
		}
		c, alive := p.visit(done, k)
		if c.plus(p.going(last, k, alive)).worth(p.prices)+after[k] <= least+equal {
			return k
		}
	}
	return -1
}

// full is the set of all rounds.
func (p *problem) full() uint64 {
	if len(p.names) == mostRounds {
		return math.MaxUint64
	}
	return 1<<len(p.names) - 1
}

// longestBlock is how many rounds the local search moves at once.
const longestBlock = 4

// improve is a local search: it moves blocks of rounds for as long as that
// makes the order cheaper.
func (p *problem) improve(order []int) []int {
	best := p.cost(order).worth(p.prices)
	for better := true; better; {
		better = false
		for length := 1; length <= longestBlock; length++ {
			for from := 1; from+length <= len(order); from++ {
				for to := 1; to+length <= len(order); to++ {
					moved := relocated(order, from, length, to)
					if !p.allowed(moved) {
						continue
					}
					if worth := p.cost(moved).worth(p.prices); worth < best-1e-12 {
						order, best, better = moved, worth, true
					}
				}
			}
		}
	}
	return order
}

// relocated takes a block out of an order and puts it in elsewhere.
func relocated(order []int, from, length, to int) []int {
	block := slices.Clone(order[from : from+length])
	rest := slices.Concat(order[:from], order[from+length:])
	return slices.Insert(rest, to, block...)
}

func (p *problem) allowed(order []int) bool {
	var done uint64
	from := order[0]
	for i, k := range order {
		if i > 0 && !p.may(done, from, k) {
			return false
		}
		done |= 1 << k
		from = k
	}
	return true
}
