package wiring

import (
	"cmp"
	"math"
	"slices"

	"sinkproof/bench/quantity"
)

// infinite is the limit of a search that takes any resistance.
var infinite = math.Inf(1)

// voltage is a net that something drives, and up to where.
type voltage struct {
	net    string
	volts  float64
	supply string
}

// sources lists what every supply can bring at most: its nominal voltage with
// the tolerance, its highest level, or its compliance. The CC pins of a C
// supply pull up to its own voltage.
func (r *Rig) sources() []voltage {
	var out []voltage
	for i := range r.Supplies {
		s := &r.Supplies[i]
		volts := s.Volts.High().SI
		if s.Kind == Probe {
			volts = s.Compliance.SI
		}
		for _, l := range s.Levels {
			if l.Value.Dim == quantity.Voltage {
				volts = max(volts, l.Value.SI*(1+s.LevelTolerance.SI))
			}
		}
		out = append(out, voltage{s.Vbus, volts, s.Name})
		if s.Kind == CSupply {
			out = append(out, voltage{s.CC1, volts, s.Name}, voltage{s.CC2, volts, s.Name})
		}
	}
	return out
}

// rated bounds the voltage of every net and compares it with the rating.
func (v *prover) rated(s *situation) {
	pos := slices.Clone(s.dropping)
	pos[v.g.broken] = between | toNO
	bound := v.bounds(pos)
	for i, name := range v.g.nets {
		if bound[i] > v.high[i] {
			v.high[i], v.where[i] = bound[i], s.setting
		}
		n, ok := v.rig.Net(name)
		if !ok || n.Rating.SI == 0 || bound[i] <= n.Rating.SI {
			continue
		}
		p, from := v.origin(i, pos)
		v.report(s, OverRated, name, p,
			"%s, the net %s can reach %s; it stands %s. The voltage comes from %s: %s.", v.in(s, false),
			name, quantity.Volts(bound[i]).Text(4), n.Rating, from, v.g.describe(p))
	}
}

// pull is one thing that draws a net towards a voltage: with a conductance
// between least and most.
type pull struct {
	volts, least, most float64
}

// settled is the change in volts below which another round is not worth it.
const settled = 1e-6

// clamp is a clamp with its nets as numbers.
type clamp struct {
	from, to  int
	low, high float64
}

// drive prepares what pulls at each net in every situation alike.
func (v *prover) drive() {
	v.sources = v.rig.sources()
	v.drives = make([][]pull, len(v.g.nets))
	for _, s := range v.sources {
		n := v.g.index[s.net]
		v.drives[n] = append(v.drives[n], pull{s.volts, 0, sourceSiemens})
	}
	for _, p := range v.rig.Parts {
		if p.Kind == Clamp {
			v.clamps = append(v.clamps, clamp{v.g.index[p.A], v.g.index[p.B], p.Value.Low().SI, p.Value.High().SI})
		}
	}
}

// sourceSiemens is the conductance of a source: so high that a net which it
// drives takes its voltage.
const sourceSiemens = 1e6

// bounds returns for each net a voltage that it cannot exceed, whatever the
// contacts that may move do, and whichever of its pins a broken unit joins.
//
// Method: the voltage of a net is the mean of what pulls at it, weighted with
// the conductances. Taking for each neighbour its bound, and for each
// conductance the end of its interval that makes the mean largest, gives a
// bound again. It starts from the highest voltage that is connected at all and
// is repeated until nothing changes; every step is a bound by itself. Sources
// count as able to raise a net and not to hold it down; a clamp holds.
// A net that nothing pulls keeps at most what an earlier setting brought.
func (v *prover) bounds(pos position) []float64 {
	u := v.connected(pos)
	const rounds = 100
	for range rounds {
		change := 0.0
		for n := 1; n < len(u); n++ {
			next := min(u[n], v.mean(n, u, pos))
			change = max(change, u[n]-next)
			u[n] = next
		}
		v.clamped(u)
		if change < settled {
			break
		}
	}
	return u
}

// clamped applies the clamps.
func (v *prover) clamped(u []float64) {
	for _, c := range v.clamps {
		u[c.from] = min(u[c.from], u[c.to]+c.high)
	}
}

// connected gives each net the highest source that any path leads to.
func (v *prover) connected(pos position) []float64 {
	u := make([]float64, len(v.g.nets))
	order := slices.Clone(v.sources)
	slices.SortStableFunc(order, func(a, b voltage) int { return cmp.Compare(b.volts, a.volts) })
	for _, s := range order {
		v.flood(v.g.index[s.net], s.volts, u, pos)
	}
	u[0] = 0
	return u
}

// flood raises every net that can be reached without ground.
func (v *prover) flood(n int, volts float64, u []float64, pos position) {
	if n == 0 || u[n] >= volts {
		return
	}
	u[n] = volts
	for _, id := range v.g.at[n] {
		if v.g.conducts(id, pos) {
			v.flood(v.g.edges[id].a+v.g.edges[id].b-n, volts, u, pos)
		}
	}
	for _, c := range v.clamps {
		if c.from == n {
			v.flood(c.to, volts, u, pos)
		}
	}
}

// mean returns the largest weighted mean of what pulls at a net.
func (v *prover) mean(n int, u []float64, pos position) float64 {
	pulls := v.pulls[:0]
	for _, id := range v.g.at[n] {
		if !v.g.conducts(id, pos) {
			continue
		}
		e := &v.g.edges[id]
		x := pull{volts: u[e.a+e.b-n], least: 1 / e.high, most: 1 / e.low}
		if math.IsInf(e.high, 1) || e.contact >= 0 && pos[e.contact] != e.throw {
			x.least = 0 // may be elsewhere
		}
		pulls = append(pulls, x)
	}
	pulls = append(pulls, v.drives[n]...)
	for _, c := range v.clamps {
		if c.to == n {
			pulls = append(pulls, pull{u[c.from] - c.low, 0, sourceSiemens})
		}
	}
	v.pulls = pulls
	return largestMean(pulls)
}

// largestMean returns the largest mean of the voltages that conductances
// within their intervals can give; 0 for none. The mean is largest with the
// high voltages at their most and the low ones at their least, so the split
// between the two is tried at every place.
func largestMean(pulls []pull) float64 {
	slices.SortFunc(pulls, func(a, b pull) int { return cmp.Compare(b.volts, a.volts) })
	best := 0.0
	for split := 1; split <= len(pulls); split++ {
		sum, weight := 0.0, 0.0
		for i, p := range pulls {
			g := p.least
			if i < split {
				g = p.most
			}
			sum, weight = sum+g*p.volts, weight+g
		}
		if weight > 0 {
			best = max(best, sum/weight)
		}
	}
	return best
}

// origin returns the way from the highest source to a net.
func (v *prover) origin(n int, pos position) (*path, string) {
	var best *path
	from, highest := "", 0.0
	for _, s := range v.sources {
		if s.volts <= highest {
			continue
		}
		start, targets := v.g.index[s.net], v.targets(v.g.nets[n])
		if start == n {
			best, from, highest = &path{nets: []int{n}}, s.supply, s.volts
			continue
		}
		if p := v.g.find(start, targets, infinite, pos); p != nil {
			best, from, highest = p, s.supply, s.volts
		}
	}
	if best == nil {
		best = &path{nets: []int{n}}
	}
	return best, from
}
