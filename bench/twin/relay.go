package twin

import (
	"math/rand/v2"
	"time"

	"sinkproof/bench/circuit"
	"sinkproof/bench/wiring"
)

// position is where the armature of a relay stands.
type position int8

const (
	atRest   position = iota // change-over contacts on their NC side
	between2                 // on neither side
	operated                 // on the NO side
)

// step is one change of position to come.
type step struct {
	at time.Duration
	to position
}

// maxBounces is the number of times a contact opens again after it has
// landed: common practice for small signal relays, no source.
const maxBounces = 3

// relay is a coil with the contacts that its armature carries. All of them
// move and bounce together.
type relay struct {
	t        *Twin
	w        *wiring.Relay
	operate  float64 // seconds, of this piece
	release  float64
	bounce   float64
	jitter   *rand.Rand
	contacts []contact
	hasNO    bool // any of them
	hasNC    bool

	dead, stays bool // by a fault: the coil is open, its driver always on

	wanted    bool // what the expander says
	energised bool // and the coil supply gives
	at        position
	moves     int // times the coil was energised
	timer     timer
	steps     [2*maxBounces + 2]step
	next, end int
}

// contact is one contact in the circuit.
type contact struct {
	w      *wiring.Contact
	no, nc circuit.ElementID
	hasNO  bool
	hasNC  bool
	limit  float64 // amperes, of a limited semiconductor switch
	ohmsNO float64
	ohmsNC float64
	common circuit.Node
	far    circuit.Node // on the NO side
	rest   circuit.Node // on the NC side
	welded bool
	stuck  bool
	// On the resting side: it never closes, or never opens.
	restOpen, restWelded bool
	madeNO               bool // as it is in the circuit
	madeNC               bool
}

// leastOhms keeps a contact or joint from being a perfect conductor.
const leastOhms = 1e-3

// newRelay draws the times of one relay and the resistances of its contacts.
// Times are at most the longest ones of the wiring file, and no shorter than
// three tenths of them (typical 2 ms for at most 3 to 7: facts of small signal
// relays).
func newRelay(t *Twin, w *wiring.Relay) *relay {
	r := stream(t.config.Seed, "relay", w.Name)
	k := &relay{
		t: t, w: w,
		operate: between(r, 0.3, 0.9) * w.Operate.SI,
		release: between(r, 0.3, 0.9) * w.Release.SI,
		bounce:  w.Bounce.SI,
		jitter:  stream(t.config.Seed, "relay moves", w.Name),
	}
	for i := range w.Contacts {
		c := &w.Contacts[i]
		draw := stream(t.config.Seed, "contact", w.Name, c.Name)
		k.contacts = append(k.contacts, contact{
			w:     c,
			hasNO: c.NO != "", hasNC: c.Form == wiring.FormC && c.NC != "",
			ohmsNO: max(leastOhms, within(draw, c.Resistance)),
			ohmsNC: max(leastOhms, within(draw, c.Resistance)),
		})
		k.hasNO = k.hasNO || k.contacts[i].hasNO
		k.hasNC = k.hasNC || k.contacts[i].hasNC
		if w.SolidState {
			k.contacts[i].limit = w.Limit.SI
		}
	}
	k.timer = t.queue.add(k)
	return k
}

// want follows the expander's output.
func (k *relay) want(now time.Duration, on bool) {
	k.wanted = on
	k.power(now)
}

// power follows the coil: the output and the coil supply together.
func (k *relay) power(now time.Duration) {
	on := (k.wanted || k.stays) && !k.dead && k.t.coils.on
	if on == k.energised {
		return
	}
	k.energised = on
	k.next, k.end = 0, 0
	if on {
		k.moves++
		k.plan(now, k.operate*between(k.jitter, 0.95, 1.05), operated)
	} else {
		k.plan(now, k.release*between(k.jitter, 0.95, 1.05), atRest)
	}
	k.timer.Set(k.steps[0].at)
}

// plan lays out the move to one side: the old contacts open, then the new ones
// land and bounce, all within the longest times. Steps that no contact of the
// relay would show are left out.
func (k *relay) plan(now time.Duration, after float64, side position) {
	opens := after * between(k.jitter, 0.4, 0.7)
	leaves, lands := k.hasNC, k.hasNO
	if side == atRest {
		leaves, lands = lands, leaves
	}
	if !lands {
		k.step(now, opens, side)
		return
	}
	if leaves {
		k.step(now, opens, between2)
	}
	k.step(now, after, side)
	if k.bounce <= 0 {
		return
	}
	// The bounce ends within its longest time; each opening is shorter than
	// the one before, as a bouncing spring's is.
	n := 1 + k.jitter.IntN(maxBounces)
	whole := k.bounce * between(k.jitter, 0.3, 1)
	at, part := after, 0.5
	for range n {
		open := at + whole*part*between(k.jitter, 0.2, 0.5)
		shut := at + whole*part*between(k.jitter, 0.6, 1)
		k.step(now, open, between2)
		k.step(now, shut, side)
		at, part = shut, part/2
	}
}

func (k *relay) step(now time.Duration, after float64, to position) {
	k.steps[k.end] = step{now + seconds(after), to}
	k.end++
}

// Due takes the next step of a move. A contact that lands with no voltage
// across it bounces unseen: relays switch cold, so that is most of them, and
// the rest of their bounce is not played out.
func (k *relay) Due(time.Duration) {
	s := k.steps[k.next]
	k.next++
	if s.to != between2 && k.next < k.end && !k.felt(s.to) {
		k.next = k.end
	}
	if k.next < k.end {
		k.timer.Set(k.steps[k.next].at)
	}
	k.at = s.to
	k.apply()
}

// unfelt is the voltage across a contact below which its bounce changes
// nothing that a converter would see.
const unfelt = 1e-3

// felt tells whether any contact that lands on a side joins two voltages.
func (k *relay) felt(side position) bool {
	sim := k.t.sim
	for i := range k.contacts {
		c := &k.contacts[i]
		far := c.far
		if side == atRest {
			far = c.rest
		}
		if d := sim.Volts(c.common) - sim.Volts(far); d > unfelt || d < -unfelt {
			return true
		}
	}
	return false
}

// apply brings the contacts in the circuit to where the armature stands.
func (k *relay) apply() {
	for i := range k.contacts {
		c := &k.contacts[i]
		no, nc := k.at == operated, k.at == atRest
		if c.welded {
			no, nc = true, false
		}
		if c.stuck {
			no = false
		}
		if c.restOpen {
			nc = false
		}
		if c.restWelded {
			no, nc = false, true
		}
		k.t.make(c, no && c.hasNO, nc && c.hasNC)
	}
}

// make sets one contact in the circuit.
func (t *Twin) make(c *contact, no, nc bool) {
	if c.hasNO && c.madeNO != no {
		c.madeNO = no
		if c.limit > 0 {
			t.check(t.sim.SetEnabled(c.no, no))
		} else {
			t.check(t.sim.SetSwitch(c.no, no))
		}
	}
	if c.hasNC && c.madeNC != nc {
		c.madeNC = nc
		t.check(t.sim.SetSwitch(c.nc, nc))
	}
}

// draft adds the contacts to a netlist, open.
func (k *relay) draft(n *circuit.Netlist) {
	for i := range k.contacts {
		c := &k.contacts[i]
		name := k.w.Name + "." + c.w.Name
		common := k.t.node(n, c.w.Common)
		c.common, c.far, c.rest = common, common, common
		if c.hasNO {
			no := k.t.node(n, c.w.NO)
			c.far = no
			if c.limit > 0 {
				// A source of 0 V between the two sides that gives no more
				// than its limit is a switch with a current limit.
				c.no = n.LimitedSupply(name+".no", no, common, 0, c.ohmsNO, 0, true)
			} else {
				c.no = n.Switch(name+".no", common, no, c.ohmsNO)
			}
		}
		if c.hasNC {
			c.rest = k.t.node(n, c.w.NC)
			c.nc = n.Switch(name+".nc", common, c.rest, c.ohmsNC)
		}
	}
}

// connect brings a new circuit to the present state.
func (k *relay) connect() {
	for i := range k.contacts {
		c := &k.contacts[i]
		c.madeNO, c.madeNC = false, false
		if c.hasNO && c.limit > 0 {
			k.t.check(k.t.sim.SetAmperes(c.no, c.limit))
			k.t.check(k.t.sim.SetEnabled(c.no, false))
		}
	}
	k.apply()
}

// seconds converts to a duration.
func seconds(s float64) time.Duration { return time.Duration(s * 1e9) }
