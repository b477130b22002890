package proving

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"sinkproof/bench/typec"
	"sinkproof/bench/wiring"
)

// The conditions of a wiring file that belong to the self-test begin with one
// of these names; what begins with the second needs the check receptacle.
const (
	selfTest       = "self-test"
	selfTestSeated = "self-test-seated"
)

// ErrNoSelfTest is the cause when a rig has no states for a self-test.
var ErrNoSelfTest = errors.New("the wiring file has no condition whose name begins with " + selfTest)

// The causes when the pins of a plug cannot be proved.
var (
	ErrNoReceptacle = errors.New("the wiring file has no check receptacle")
	ErrNoSeatedTest = errors.New("the wiring file has no condition whose name begins with " + selfTestSeated)
)

// wait is what a state waits for before it is read.
type wait int

const (
	noWait wait = iota
	forRise
	forFall
)

// visit is one state of the plan with what a healthy rig reads there.
type visit struct {
	stand
	expected *prediction
	// powered: a feed is on, or the condition needs the probe.
	powered bool
	// holds: the state has VBUS up without a feed, so that it falls only when the
	// state is left.
	holds   bool
	wait    wait
	channel int // that shows the rise or the fall
	supply  *wiring.Supply
}

// plan lists the states: first those without power, then the others, each in
// the order of the file; those with the check receptacle apart.
func (m *model) plan() (empty, seated []visit, err error) {
	safe, err := m.rig.Expand(wiring.Setting{Condition: wiring.Isolated})
	if err != nil {
		return nil, nil, fmt.Errorf("plan the self-test: %w", err)
	}
	empty = []visit{{stand: stand{state: safe}}}
	for i := range m.rig.Conditions {
		c := &m.rig.Conditions[i]
		if !strings.HasPrefix(c.Name, selfTest) {
			continue
		}
		for _, set := range m.rig.Settings(c.Name) {
			st, err := m.rig.Expand(set)
			if err != nil {
				return nil, nil, fmt.Errorf("plan the self-test: %w", err)
			}
			v := visit{stand: stand{state: st, seated: strings.HasPrefix(c.Name, selfTestSeated)}, powered: len(c.Needs) > 0}
			if v.seated {
				seated = append(seated, v)
			} else {
				empty = append(empty, v)
			}
		}
	}
	if len(empty) == 1 {
		return nil, nil, fmt.Errorf("plan the self-test of %s: %w", m.rig.Name, ErrNoSelfTest)
	}
	calm := true
	for _, list := range [][]visit{empty, seated} {
		for i := range list {
			if calm, err = m.calms(&list[i], calm); err != nil {
				return nil, nil, err
			}
			if err := m.expect(list, i); err != nil {
				return nil, nil, err
			}
			list[i].holds = m.holds(&list[i])
			calm = calm || list[i].wait == forFall
		}
	}
	return empty, seated, nil
}

// calms tells whether no C supply can be on in a state, before it is waited for.
func (m *model) calms(v *visit, calm bool) (bool, error) {
	for i := range m.rig.Supplies {
		w := &m.rig.Supplies[i]
		if w.Kind != wiring.CSupply || !calm {
			continue
		}
		on, _, err := m.attaches(w, v.stand, change{})
		if err != nil {
			return false, fmt.Errorf("predict %s: %w", v.state.Setting, err)
		}
		calm = !on
	}
	v.calm = calm
	return calm, nil
}

// holds tells whether VBUS is up in a state that no feed feeds: by the probe, or by
// the cell substitute through the check receptacle.
func (m *model) holds(v *visit) bool {
	sense := m.rig.Nest.PinNet(wiring.PinVbusSense)
	for i, c := range m.channels {
		if c.Kind == wiring.VoltageChannel && c.Net == sense {
			return len(v.state.Feed) == 0 && v.expected.high[i] >= m.rig.Guard.Safe0V.SI
		}
	}
	return false
}

// expect finds what a healthy rig reads in the i-th state, and what has to be
// waited for: a supply that thinks, where some channel shows it.
func (m *model) expect(list []visit, i int) error {
	v := &list[i]
	open := v.stand
	open.settled = ""
	p, err := m.predicted(open, change{}, "")
	if err != nil {
		return fmt.Errorf("predict %s: %w", v.state.Setting, err)
	}
	if c := m.shows(p); c >= 0 {
		v.supply = m.thinking(v.state)
		if v.supply == nil {
			return fmt.Errorf("plan %s: %s shows a supply that no contact of the state leads to", v.state.Setting, m.channels[c].Name)
		}
		v.settled = v.supply.Name
		if v.expected, err = m.predicted(v.stand, change{}, ""); err != nil {
			return fmt.Errorf("predict %s: %w", v.state.Setting, err)
		}
		v.channel = c
		switch {
		case v.expected.value(c) < risen*p.high[c]:
			v.wait = forFall
		case v.expected.low[c] >= shown:
			v.wait = forRise
		}
		// A supply that may sleep as well as give has nothing to be waited for: a
		// rise to zero is what noise decides.
		return nil
	}
	v.expected = p
	if i > 0 && list[i-1].settled != "" && keeps(m, list[i-1].state, v.state) {
		v.settled = list[i-1].settled
		v.expected, err = m.predicted(v.stand, change{}, "")
	}
	return err
}

// risen is the part of its value at which a supply counts as on, and shown the
// least change of a channel that shows whether it is.
const (
	risen = 0.9
	shown = 1.0 // volts
)

// shows is the channel of voltage that tells best whether a supply is on; -1
// where none does.
func (m *model) shows(p *prediction) int {
	best, most := -1, shown
	for i, c := range m.channels {
		// What stands between the answers of a supply that thinks, beyond its
		// tolerance; the pull-ups have theirs.
		if c.Kind == wiring.CurrentChannel || p.certain[i] || m.atPull(c) {
			continue
		}
		if d := p.high[i] - p.low[i]; d > most && m.besideOutput(c) {
			best, most = i, d
		}
	}
	return best
}

// atPull tells whether a channel looks at a CC pin of a C supply.
func (m *model) atPull(c *wiring.Channel) bool {
	for i := range m.rig.Supplies {
		if w := &m.rig.Supplies[i]; c.Net != "" && (c.Net == w.CC1 || c.Net == w.CC2) {
			return true
		}
	}
	return false
}

// besideOutput tells whether a channel looks at something else than the very
// output of a portable supply, which idles at any voltage.
func (m *model) besideOutput(c *wiring.Channel) bool {
	for i := range m.rig.Supplies {
		if w := &m.rig.Supplies[i]; w.Kind == wiring.Portable && c.Net == w.Vbus {
			return false
		}
	}
	return true
}

// thinking is the supply that thinks and has a contact closed in a state.
func (m *model) thinking(s wiring.State) *wiring.Supply {
	for i := range m.rig.Supplies {
		w := &m.rig.Supplies[i]
		if w.Kind != wiring.CSupply && w.Kind != wiring.Portable {
			continue
		}
		for _, name := range s.On {
			k, ok := m.rig.Relay(name)
			if !ok {
				continue
			}
			for _, c := range k.Contacts {
				if c.Common == w.Vbus || c.NO == w.Vbus {
					return w
				}
			}
		}
	}
	return nil
}

// keeps tells whether every contact that leads to a CC pin of a C supply stands
// alike in two states, so that what the supply does goes on: the contacts
// between it and its termination.
func keeps(m *model, before, now wiring.State) bool {
	wire := false
	for i := range m.rig.Supplies {
		w := &m.rig.Supplies[i]
		if w.Kind != wiring.CSupply {
			continue
		}
		for j := range m.rig.Relays {
			k := &m.rig.Relays[j]
			touches := false
			for _, c := range k.Contacts {
				for _, net := range []string{c.Common, c.NO} {
					touches = touches || net == w.CC1
				}
			}
			if touches && before.Holds(k.Name) && now.Holds(k.Name) {
				wire = true
			}
		}
	}
	if !wire {
		return false
	}
	for _, s := range m.rig.Selects {
		if before.Holds(s.Name) != now.Holds(s.Name) {
			return false
		}
	}
	return true
}

// deadline is how long a supply may take, with the source of the time.
func (v *visit) deadline() (limit time.Duration, source string) {
	switch {
	case v.wait == forFall:
		return seconds(typec.DetachWorst().Max.SI) + relays, "USB Type-C R2.1, Table 4-31, R2.5, Table 4-32: tSRCDisconnect and tVBUSOFF"
	case v.supply != nil && v.supply.Kind == wiring.CSupply:
		return seconds(typec.AttachWorst().Max.SI) + relays, "USB Type-C R2.1, Tables 4-31 and 4-29: tCCDebounce and tVBUSON"
	}
	return portableWakes, "common practice of small batteries with a port, no source"
}

// What a deadline allows beside the supply's own time: relays and the rise at
// the feed, 20 ms (own choice); a portable supply wakes within 0.3 s. patience
// is how much longer is waited, so that a late supply is told from a dead one.
const (
	relays        = 20 * time.Millisecond
	portableWakes = 300 * time.Millisecond
	patience      = 600 * time.Millisecond
)

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * float64(time.Second))) }
