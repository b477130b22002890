package wiring

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sinkproof/bench/quantity"
)

// throws says in which positions a contact may be: a set of bits.
type throws uint8

const (
	between throws = 1 << iota // neither net reached: open, or on the way
	toNO
	toNC
)

// edge is something that conducts between two nets: a resistor, or one throw
// of a contact.
type edge struct {
	a, b int
	// low and high are the ends of the tolerance interval, in ohms.
	low, high float64
	// contact is the index of the contact that this is a throw of, -1 for a
	// part that is soldered in.
	contact int
	throw   throws
	name    string
}

// contact is one contact of a relay in the graph.
type contact struct {
	relay *Relay
	name  string
	rest  throws // with the coil off
	on    throws // with the coil on
	any   throws // somewhere on the way
}

// graph is the rig as nets and what conducts between them.
type graph struct {
	rig      *Rig
	nets     []string // net 0 is ground
	index    map[string]int
	edges    []edge
	at       [][]int // edges at each net
	contacts []contact
	// broken is the contact that stands for a unit which joins its pins by a
	// fault: open unless the ratings are asked for.
	broken int
}

// position says where each contact may be.
type position []throws

func newGraph(r *Rig) *graph {
	g := &graph{rig: r, index: map[string]int{Ground: 0}, nets: []string{Ground}}
	for _, n := range r.Nets {
		g.net(n.Name)
	}
	for _, p := range r.Parts {
		if p.Kind == Resistor {
			g.add(edge{g.net(p.A), g.net(p.B), p.Value.Low().SI, p.Value.High().SI, -1, 0, p.Name})
		}
	}
	for i := range r.Relays {
		g.relay(&r.Relays[i])
	}
	force, ok1 := r.Nest.Pin(PinVbusForce)
	sense, ok2 := r.Nest.Pin(PinVbusSense)
	if ok1 && ok2 {
		low := force.Resistance.Low().SI + sense.Resistance.Low().SI
		g.add(edge{g.net(force.Net), g.net(sense.Net), low, math.Inf(1), -1, 0, "the unit"})
	}
	g.brokenUnit()
	return g
}

// brokenOhms is a short inside a unit, which may join any of its pins.
const brokenOhms = 1e-3

// brokenUnit adds a path between any two pins of the unit.
func (g *graph) brokenUnit() {
	g.broken = len(g.contacts)
	g.contacts = append(g.contacts, contact{relay: &Relay{}, rest: between, on: toNO, any: between | toNO})
	pins := g.rig.pinNets()
	for i, a := range pins {
		for _, b := range pins[i+1:] {
			g.add(edge{g.net(a), g.net(b), brokenOhms, math.Inf(1), g.broken, toNO, "a broken unit"})
		}
	}
}

// pinNets lists the nets that touch the unit, ground and light apart.
func (r *Rig) pinNets() []string {
	var out []string
	for _, p := range r.Nest.Pins {
		if p.Pin != PinGround && p.Pin != PinLight && p.Net != Ground {
			out = append(out, p.Net)
		}
	}
	return out
}

func (g *graph) net(name string) int {
	if i, ok := g.index[name]; ok {
		return i
	}
	g.index[name] = len(g.nets)
	g.nets = append(g.nets, name)
	return len(g.nets) - 1
}

func (g *graph) add(e edge) {
	for len(g.at) < len(g.nets) {
		g.at = append(g.at, nil)
	}
	id := len(g.edges)
	g.edges = append(g.edges, e)
	g.at[e.a] = append(g.at[e.a], id)
	if e.b != e.a {
		g.at[e.b] = append(g.at[e.b], id)
	}
}

func (g *graph) relay(k *Relay) {
	for i := range k.Contacts {
		c := &k.Contacts[i]
		x := contact{relay: k, name: k.Name, rest: between, on: toNO, any: between | toNO}
		if len(k.Contacts) > 1 {
			x.name = k.Name + "." + c.Name
		}
		if c.Form == FormC {
			x.rest, x.any = toNC, between|toNO|toNC
		}
		id := len(g.contacts)
		g.contacts = append(g.contacts, x)
		low, high := c.Resistance.Low().SI, c.Resistance.High().SI
		if c.NO != "" {
			g.add(edge{g.net(c.Common), g.net(c.NO), low, high, id, toNO, x.name})
		}
		if c.NC != "" && c.Form == FormC {
			g.add(edge{g.net(c.Common), g.net(c.NC), low, high, id, toNC, x.name})
		}
	}
}

// place gives each contact its position: as the coil says for the relays that
// are on, at rest for the others, and anywhere for those that move.
func (g *graph) place(on, moving []string) position {
	p := make(position, len(g.contacts))
	for i, c := range g.contacts {
		switch {
		case slices.Contains(moving, c.relay.Name):
			p[i] = c.any
		case slices.Contains(on, c.relay.Name):
			p[i] = c.on
		default:
			p[i] = c.rest
		}
	}
	return p
}

// conducts tells whether an edge may conduct in a position.
func (g *graph) conducts(id int, p position) bool {
	e := &g.edges[id]
	return e.contact < 0 || p[e.contact]&e.throw != 0
}

// path is a way from one net to another.
type path struct {
	nets  []int
	edges []int
	ohms  float64
}

// find returns the path of least resistance from a net to one of the targets
// that stays below a limit and does not lead through ground. A contact is in
// one throw at a time: where the least path would need two throws of one
// contact, each throw is tried by itself. Without such a path the result is
// nil.
func (g *graph) find(from int, targets []bool, below float64, p position) *path {
	least := g.dijkstra(from, targets, below, p)
	if least == nil {
		return nil
	}
	c := g.torn(least)
	if c < 0 {
		return least
	}
	var best *path
	for _, drop := range []throws{toNC, toNO} {
		one := slices.Clone(p)
		one[c] &^= drop
		if found := g.find(from, targets, below, one); found != nil && (best == nil || found.ohms < best.ohms) {
			best = found
		}
	}
	return best
}

// torn returns a contact of which a path uses both throws, -1 without one.
func (g *graph) torn(p *path) int {
	used := map[int]throws{}
	for _, id := range p.edges {
		e := g.edges[id]
		if e.contact < 0 {
			continue
		}
		if used[e.contact] |= e.throw; used[e.contact] == toNO|toNC {
			return e.contact
		}
	}
	return -1
}

// dijkstra is the plain search (E. W. Dijkstra, Numerische Mathematik 1, 1959,
// problem 2), with an array for a queue: a rig has some fifty nets.
func (g *graph) dijkstra(from int, targets []bool, below float64, p position) *path {
	dist := make([]float64, len(g.nets))
	via := make([]int, len(g.nets))
	done := make([]bool, len(g.nets))
	for i := range dist {
		dist[i], via[i] = math.Inf(1), -1
	}
	dist[from] = 0
	for {
		n := -1
		for i, d := range dist {
			if !done[i] && d < below && (n < 0 || d < dist[n]) {
				n = i
			}
		}
		if n < 0 {
			return nil
		}
		if n != from && targets[n] {
			return g.trace(from, n, dist[n], via)
		}
		done[n] = true
		if n == 0 && from != 0 {
			continue // not through ground
		}
		for _, id := range g.at[n] {
			e := &g.edges[id]
			if next := e.a + e.b - n; g.conducts(id, p) && dist[n]+e.low < dist[next] {
				dist[next], via[next] = dist[n]+e.low, id
			}
		}
	}
}

func (g *graph) trace(from, to int, ohms float64, via []int) *path {
	out := &path{nets: []int{to}, ohms: ohms}
	for n := to; n != from; {
		e := g.edges[via[n]]
		out.edges = append(out.edges, via[n])
		n = e.a + e.b - n
		out.nets = append(out.nets, n)
	}
	slices.Reverse(out.nets)
	slices.Reverse(out.edges)
	return out
}

// describe writes a path as net, what conducts, net, and so on.
func (g *graph) describe(p *path) string {
	var b strings.Builder
	b.WriteString(g.nets[p.nets[0]])
	for i, id := range p.edges {
		fmt.Fprintf(&b, " (%s) %s", g.edges[id].name, g.nets[p.nets[i+1]])
	}
	return b.String()
}

// ohmsText prints a path's resistance as a person reads it.
func (p *path) ohmsText() string {
	return quantity.Ohms(p.ohms).Text(3)
}
