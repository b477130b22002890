package proving

import (
	"fmt"
	"math"
	"slices"

	"sinkproof/bench/quantity"
	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
)

// What a wiring file does not state. Nets leak through boards and cables
// (common practice, no source); how much a chip loads is printed as typical
// only, so half of it is doubted.
const (
	insulation   = 1e9 // ohms
	loadingDoubt = 0.5
	leastOhms    = 1e-3
)

// model predicts what the channels of a rig read in a state, healthy or with a
// fault.
type model struct {
	rig      *wiring.Rig
	channels []*wiring.Channel // those that a prediction is made for
	node     map[string]int    // of every net, and of the pins of the check receptacle
	nodes    int
	known    known
}

// newModel numbers the nets.
func newModel(w *wiring.Rig) *model {
	m := &model{rig: w, known: known{}, node: map[string]int{wiring.Ground: 0}}
	for i := range w.Nets {
		m.number(w.Nets[i].Name)
	}
	for i := range w.Nest.Pins {
		m.number(padOf(w.Nest.Pins[i].Pin))
	}
	for i := range w.Channels {
		c := &w.Channels[i]
		switch c.Kind {
		case wiring.VoltageChannel, wiring.LightChannel, wiring.CurrentChannel:
			m.channels = append(m.channels, c)
		}
	}
	return m
}

func (m *model) number(name string) {
	if _, known := m.node[name]; !known {
		m.nodes++
		m.node[name] = m.nodes
	}
}

// padOf is the net of the check receptacle behind a pin.
func padOf(pin string) string { return "receptacle " + pin }

// stand is what a prediction is asked for: a state, and whether the check
// receptacle is seated.
type stand struct {
	state  wiring.State
	seated bool
	// settled names the supply that has been waited for, so that it is known
	// whether it is on; empty for none.
	settled string
	// calm: no C supply has seen a termination in this state or before, or it
	// was seen to go off since.
	calm bool
}

// probe is where a channel looks.
func (m *model) probe(c *wiring.Channel, s wiring.State) probe {
	if c.Kind != wiring.CurrentChannel {
		return probe{plus: m.node[c.Net], factor: 1}
	}
	chip, ok := m.rig.Chip(meterOf(c, s))
	if !ok {
		return probe{}
	}
	shunt, ok := m.rig.Part(chip.Shunt)
	if !ok {
		return probe{}
	}
	return probe{m.node[chip.Plus], m.node[chip.Minus], 1 / shunt.Value.Nominal.SI}
}

// meterOf is the monitor that serves a current channel in a state.
func meterOf(c *wiring.Channel, s wiring.State) string {
	for _, g := range c.Ranges {
		if g.Relay == "" || s.Holds(g.Relay) != g.Off {
			return g.Chip
		}
	}
	return ""
}

// answer is what the supplies that think are doing.
type answer struct {
	on    map[string]bool
	vconn bool // the C supply feeds its other CC pin
}

// settle solves the circuit of one answer. A current source at the end of its
// compliance, and a pull-up that nothing loads, are voltages instead; which ones
// shows only in the solution.
func (m *model) settle(s stand, f change, a answer) (*solved, error) {
	limited := map[string]bool{}
	for {
		c := m.circuit(s, f, a, limited)
		x, err := c.solve()
		if err != nil {
			return nil, err
		}
		again := false
		for i := range m.rig.Supplies {
			w := &m.rig.Supplies[i]
			v := x.volts[m.node[w.Vbus]]
			switch w.Kind {
			case wiring.Probe:
				again = limit(limited, w.Vbus, v > w.Compliance.SI) || again
			case wiring.CellSubstitute: // it sinks, too
			default:
				again = limit(limited, w.Vbus, v > w.Volts.Nominal.SI*(1+backward)) || again
			}
			for _, cc := range []string{w.CC1, w.CC2} {
				again = cc != "" && limit(limited, cc, x.volts[m.node[cc]] > pullEnds) || again
			}
		}
		if !again {
			return x, nil
		}
	}
}

func limit(limited map[string]bool, net string, reached bool) bool {
	if !reached || limited[net] {
		return false
	}
	limited[net] = true
	return true
}

// circuit builds the conductances and sources.
func (m *model) circuit(s stand, f change, a answer, limited map[string]bool) *circuit {
	c := &circuit{nodes: m.nodes}
	for n := 1; n <= m.nodes; n++ {
		c.conduct(n, 0, 1/insulation, 1)
	}
	m.solder(c)
	for i := range m.rig.Relays {
		k := &m.rig.Relays[i]
		on := f.pulled(k.Name, s.state.Holds(k.Name))
		for j := range k.Contacts {
			m.contact(c, &k.Contacts[j], f.throw(k.Name, j, on))
		}
	}
	for i := range m.rig.Supplies {
		if w := &m.rig.Supplies[i]; f.dead != w.Name {
			m.supply(c, w, f.selected(s.state.On), a, limited)
		}
	}
	if s.seated && !f.unseated {
		m.receptacle(c, f)
	}
	return c
}

// solder adds what always stands there.
func (m *model) solder(c *circuit) {
	for i := range m.rig.Parts {
		p := &m.rig.Parts[i]
		if p.Kind == wiring.Resistor {
			c.conduct(m.node[p.A], m.node[p.B], 1/math.Max(leastOhms, p.Value.Nominal.SI), p.Value.Relative())
		}
	}
	for i := range m.rig.Chips {
		x := &m.rig.Chips[i]
		if x.Loading.SI <= 0 {
			continue
		}
		for _, net := range append(slices.Clone(x.Inputs), x.Sense) {
			if net != "" {
				c.conduct(m.node[net], 0, 1/x.Loading.SI, loadingDoubt)
			}
		}
	}
}

func (m *model) contact(c *circuit, x *wiring.Contact, t throw) {
	g, half := 1/math.Max(leastOhms, x.Resistance.Nominal.SI), x.Resistance.Relative()
	if t.no && x.NO != "" {
		c.conduct(m.node[x.Common], m.node[x.NO], g, half)
	}
	if t.nc && x.NC != "" && x.Form == wiring.FormC {
		c.conduct(m.node[x.Common], m.node[x.NC], g, half)
	}
}

// receptacle adds the check receptacle behind the contacts of the plug.
func (m *model) receptacle(c *circuit, f change) {
	for i := range m.rig.Nest.Pins {
		p := &m.rig.Nest.Pins[i]
		if p.Resistance.Nominal.SI <= 0 {
			continue
		}
		ohms, half := p.Resistance.Nominal.SI, p.Resistance.Relative()
		if f.pin == p.Pin {
			ohms, half = f.ohms, 0
		}
		c.conduct(m.node[p.Net], m.node[padOf(p.Pin)], 1/math.Max(leastOhms, ohms), half)
	}
	for i := range m.rig.Nest.Check {
		p := &m.rig.Nest.Check[i]
		c.conduct(m.node[padOf(p.A)], m.node[padOf(p.B)], 1/p.Value.Nominal.SI, p.Value.Relative())
	}
}

// How the ends of a source are modelled. A pull-up of a C supply is a current
// up to 2.6 V (USB Type-C R2.5, Table 4-27: the highest voltage at which one is
// looked at) and then anything from there to the supply's own voltage. The
// compliance of a probe is not toleranced in a wiring file; a tenth is allowed
// for.
const (
	pullEnds       = 2.75 // volts
	pullOpen       = 4.1  // volts, the middle
	pullOpenHalf   = 0.3
	pullOhms       = 1e3
	complianceHalf = 0.1
	complianceOhms = 1
	// backward is how far, relative, an output must stand above its supply to
	// count as held up by something else.
	backward  = 1e-9
	vconnOhms = 1
)

func (m *model) supply(c *circuit, w *wiring.Supply, on []string, a answer, limited map[string]bool) {
	if limited[w.Vbus] && w.Kind != wiring.Probe {
		if w.Kind == wiring.CSupply {
			m.pulls(c, w, on, a, limited)
		}
		return // something else holds its output up, and it sinks nothing
	}
	node, ohms := m.node[w.Vbus], math.Max(leastOhms, w.Output.SI)
	value, half := valueOf(w, on)
	switch w.Kind {
	case wiring.Probe:
		if limited[w.Vbus] {
			c.drive(node, w.Compliance.SI, complianceHalf, complianceOhms, w.Name)
			return
		}
		c.inject(node, value, half, w.Name)
	case wiring.CSupply:
		m.pulls(c, w, on, a, limited)
		if a.on[w.Name] {
			c.drive(node, w.Volts.Nominal.SI, w.Volts.Relative(), ohms, w.Name)
		}
	case wiring.Portable:
		if a.on[w.Name] {
			c.drive(node, w.Volts.Nominal.SI, w.Volts.Relative(), ohms, w.Name)
		}
	default:
		c.drive(node, value, half, ohms, w.Name)
	}
}

// pulls adds the two CC pins of a C supply.
func (m *model) pulls(c *circuit, w *wiring.Supply, on []string, a answer, limited map[string]bool) {
	r := typec.Rp(offer(w, on), typec.CurrentSource)
	if _, ok := w.LevelFor(on); !ok { // it may offer anything
		r.Min, r.Max = typec.Rp(typec.Default, typec.CurrentSource).Min, typec.Rp(typec.A3000, typec.CurrentSource).Max
	}
	for i, net := range []string{w.CC1, w.CC2} {
		switch {
		case net == "":
		case i == 1 && a.vconn:
			c.drive(m.node[net], w.Volts.Nominal.SI, 0.1, vconnOhms, "")
		case limited[net]:
			c.drive(m.node[net], pullOpen, pullOpenHalf, pullOhms, "")
		default:
			middle := (r.Min.SI + r.Max.SI) / 2
			c.inject(m.node[net], middle, (r.Max.SI-r.Min.SI)/2/middle, "")
		}
	}
}

// offer is what a C supply advertises.
func offer(w *wiring.Supply, on []string) typec.Advertisement {
	level, ok := w.LevelFor(on)
	switch {
	case !ok || level.Value.Dim != quantity.Current || level.Value.SI < 1:
		return typec.Default
	case level.Value.SI < 2:
		return typec.A1500
	}
	return typec.A3000
}

// valueOf is what a supply gives with some selects on, and the half-width of
// its tolerance. Selects that choose no level leave open which one it is.
func valueOf(w *wiring.Supply, on []string) (value, half float64) {
	if len(w.Levels) == 0 {
		return w.Volts.Nominal.SI, w.Volts.Relative()
	}
	if l, ok := w.LevelFor(on); ok {
		return l.Value.SI, w.LevelTolerance.SI
	}
	low, high := math.Inf(1), 0.0
	for _, l := range w.Levels {
		low, high = math.Min(low, l.Value.SI), math.Max(high, l.Value.SI)
	}
	return (low + high) / 2, (high-low)/(high+low) + w.LevelTolerance.SI
}

// answers lists what the supplies that think may be doing in a state.
func (m *model) answers(s stand, f change) ([]answer, error) {
	out := []answer{{on: map[string]bool{}}}
	for i := range m.rig.Supplies {
		w := &m.rig.Supplies[i]
		if f.dead == w.Name || w.Kind != wiring.CSupply && w.Kind != wiring.Portable {
			continue
		}
		on, off, err := m.may(w, s, f)
		if err != nil {
			return nil, fmt.Errorf("supply %s: %w", w.Name, err)
		}
		marked := on && w.Kind == wiring.CSupply && m.marked(w, s, f)
		if w.Kind == wiring.CSupply && !m.connected(w, s, f) {
			on, off = marked, true // nothing would show its output
		}
		var next []answer
		for _, a := range out {
			if on {
				next = append(next, a.with(w.Name, false))
				if marked {
					next = append(next, a.with(w.Name, true))
				}
			}
			if off {
				next = append(next, a)
			}
		}
		out = next
	}
	return out, nil
}

func (a answer) with(supply string, vconn bool) answer {
	out := answer{on: map[string]bool{supply: true}, vconn: a.vconn || vconn}
	for name := range a.on {
		out.on[name] = true
	}
	return out
}

// marked tells whether the other CC pin of a C supply may see a Ra, which it
// then feeds.
func (m *model) marked(w *wiring.Supply, s stand, f change) bool {
	x, err := m.settle(s, f, answer{on: map[string]bool{w.Name: true}})
	return err == nil && w.CC2 != "" && x.volts[m.node[w.CC2]] < typec.RaThreshold(typec.A3000).Max.SI
}

// connected tells whether a contact leads on from the output of a supply.
func (m *model) connected(w *wiring.Supply, s stand, f change) bool {
	for i := range m.rig.Relays {
		k := &m.rig.Relays[i]
		for j := range k.Contacts {
			c := &k.Contacts[j]
			t := f.throw(k.Name, j, f.pulled(k.Name, s.state.Holds(k.Name)))
			if (c.Common == w.Vbus || c.NO == w.Vbus || c.NC == w.Vbus) && (t.no && c.NO != "" || t.nc && c.NC != "") {
				return true
			}
		}
	}
	return false
}

// wakes is how far the idle output of a portable supply must fall, against
// where it stands alone, to be sure that it wakes: to less than six tenths
// (common practice of small batteries with a port, no source).
const (
	wakes    = 0.5
	idleOhms = 1e6
)

// may tells whether a supply may be on, and whether it may be off.
func (m *model) may(w *wiring.Supply, s stand, f change) (on, off bool, err error) {
	if s.settled != w.Name && !(s.calm && w.Kind == wiring.CSupply) {
		return true, true, nil
	}
	if w.Kind == wiring.Portable {
		return m.woken(w, s, f)
	}
	on, off, err = m.attaches(w, s, f)
	if s.settled != w.Name && on {
		off = true // it may be debouncing still
	}
	return on, off, err
}

// attaches tells whether a C supply may see a termination, and whether it may
// not.
func (m *model) attaches(w *wiring.Supply, s stand, f change) (on, off bool, err error) {
	if _, ok := w.LevelFor(f.selected(s.state.On)); !ok {
		return true, true, nil
	}
	x, err := m.settle(s, f, answer{on: map[string]bool{}})
	if err != nil {
		return false, false, err
	}
	v, err := x.view(probe{plus: m.node[w.CC1], factor: 1})
	if err != nil {
		return false, false, err
	}
	half, a := x.half(v), offer(w, f.selected(s.state.On))
	ra, open := typec.RaThreshold(a), typec.OpenThreshold(a)
	on = v.value+half > ra.Min.SI && v.value-half < open.Max.SI
	off = v.value-half < ra.Max.SI || v.value+half > open.Min.SI
	return on, off, nil
}

// woken compares the idle output with what it is when nothing is connected.
func (m *model) woken(w *wiring.Supply, s stand, f change) (on, off bool, err error) {
	idle := func(s stand, f change) (float64, error) {
		c := m.circuit(s, f, answer{on: map[string]bool{}}, map[string]bool{})
		c.drive(m.node[w.Vbus], w.Volts.Nominal.SI, 0, idleOhms, "")
		x, err := c.solve()
		if err != nil {
			return 0, err
		}
		return x.volts[m.node[w.Vbus]], nil
	}
	alone, err := idle(stand{}, change{})
	if err != nil {
		return false, false, err
	}
	now, err := idle(s, f)
	if err != nil {
		return false, false, err
	}
	// Off it idles at a voltage that nobody states, so only "on" is certain.
	return true, now > wakes*alone, nil
}
