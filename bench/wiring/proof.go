package wiring

import (
	"fmt"
	"slices"
	"strings"
)

// Proof is what was proved of a rig.
type Proof struct {
	// Settings is the number of settings that were covered, Situations the
	// number of different sets of relays among them.
	Settings, Situations int
	// Powered lists the conditions that bring power to the unit.
	Powered []string
	// Highest gives, for each net that a supply can reach, the highest voltage
	// that any setting or move can bring there.
	Highest []NetBound
	// Welds lists the single contacts that would join two supplies if they
	// welded.
	Welds []Weld
}

// NetBound is the highest voltage that a net can reach.
type NetBound struct {
	Net     string
	Volts   float64
	Setting Setting // one in which, or on the way to which, it can
}

// Weld is a contact that joins two supplies when it does not let go.
type Weld struct {
	Contact string // relay, or relay.contact where it has several
	Throw   string // "NO" or "NC": the net at which it is stuck
	Setting Setting
	A, B    string // the supplies
}

// Violation is one way in which a rig is not safe. Its Detail names the nets,
// the contacts on the path and the setting, and says what would be right.
type Violation struct {
	Mistake
	Setting Setting
	// Path is the way from net to net, empty where the violation is none of
	// paths.
	Path string
}

// The summaries of violations.
const (
	JoinedSupplies = "supplies joined"
	ShortedSupply  = "supply shorted"
	HotContact     = "relay switches under load"
	NotEmptied     = "VBUS is not emptied"
	NotIsolated    = "isolated is not isolated"
	NotProbed      = "power before the probe"
	OverRated      = "net above its rating"
	WeldedContact  = "one welded contact joins supplies"
)

// Prove proves that a rig is safe, or says why it is not. The rig must be free
// of mistakes (Validate).
//
// A move has two phases: first every coil that must go off goes off, then
// every coil that must come on comes on, with the feeds off in both. In each
// phase a contact that changes counts as open and as closed, a form C contact
// as in either throw or in none. So every state on the way from one setting to
// another is made of the relays of one of the two, each contact of them
// anywhere, all others at rest; and each such state can occur, because a move
// to isolated can be cut off at any instant. What holds in that one situation
// of a setting therefore holds in the setting, in every move into it and out
// of it, and in every move that is given up, and nothing else needs a look.
// When the coil supply drops the feeds move with the rest; whether supplies
// are joined is therefore asked with the feeds moving, too.
func Prove(r *Rig) (*Proof, []Violation) {
	v := &prover{g: newGraph(r), rig: r, proof: &Proof{}, said: map[string]bool{}}
	v.drive()
	v.high = make([]float64, len(v.g.nets))
	v.where = make([]Setting, len(v.g.nets))
	seen := map[string]bool{}
	for _, st := range r.States() {
		v.proof.Settings++
		s := v.situation(st)
		v.power(s)
		key := strings.Join(s.on, ",") + "|" + strings.Join(s.feed, ",")
		v.isolated(s)
		if seen[key+"|"+st.Setting.Condition] {
			continue
		}
		seen[key+"|"+st.Setting.Condition] = true
		if !seen[key] {
			seen[key] = true
			v.proof.Situations++
		}
		v.joined(s)
		v.shorted(s)
		v.cold(s)
		v.emptied(s)
		v.rated(s)
	}
	v.finish()
	return v.proof, v.out
}

// prover walks over the settings.
type prover struct {
	g       *graph
	rig     *Rig
	proof   *Proof
	out     []Violation
	said    map[string]bool
	sources []voltage
	drives  [][]pull // of each net, by the sources
	clamps  []clamp
	pulls   []pull // scratch of mean
	high    []float64
	where   []Setting
	powered []string
}

// situation is a setting with its relays, feeds apart.
type situation struct {
	setting  Setting
	on, feed []string
	// settled is the setting itself; moving has the relays of the setting
	// anywhere and the feeds at rest; dropping has the feeds anywhere, too.
	settled, moving, dropping position
}

func (v *prover) situation(st State) *situation {
	s := &situation{setting: st.Setting, feed: st.Feed}
	for _, name := range st.On {
		if _, ok := v.rig.Relay(name); ok {
			s.on = append(s.on, name)
		}
	}
	all := slices.Concat(s.on, s.feed)
	s.settled = v.g.place(all, nil)
	s.moving = v.g.place(nil, s.on)
	s.dropping = v.g.place(nil, all)
	return s
}

// report adds a violation once per condition and subject.
func (v *prover) report(s *situation, summary, subject string, p *path, detail string, args ...any) {
	key := summary + "|" + s.setting.Condition + "|" + subject
	if v.said[key] {
		return
	}
	v.said[key] = true
	out := Violation{Setting: s.setting}
	out.Place = At("condition", s.setting.Condition)
	out.Summary = summary
	out.Detail = fmt.Sprintf(detail, args...)
	if p != nil {
		out.Path = v.g.describe(p)
	}
	v.out = append(v.out, out)
}

// in says whether a path stands in the setting itself or only on the way.
func (v *prover) in(s *situation, settled bool) string {
	if settled {
		return "In " + s.setting.String()
	}
	return "On the way into or out of " + s.setting.String()
}

// targets marks nets.
func (v *prover) targets(nets ...string) []bool {
	out := make([]bool, len(v.g.nets))
	for _, n := range nets {
		if i, ok := v.g.index[n]; ok {
			out[i] = true
		}
	}
	return out
}

// powers tells whether a supply of this kind can hurt a unit: it gives more
// than the probe, and more than a reference.
func (k SupplyKind) powers() bool { return k != Probe && k != Reference }

// feeds tells whether a supply of this kind feeds VBUS.
func (k SupplyKind) feeds() bool { return k == LegacyA || k == CSupply || k == Portable }

func (v *prover) finish() {
	for i, volts := range v.high {
		if volts > 0 {
			v.proof.Highest = append(v.proof.Highest, NetBound{v.g.nets[i], volts, v.where[i]})
		}
	}
	v.proof.Powered = sortedOnce(v.powered)
}
