package scenarios

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"sinkproof/bench"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/source"
)

// ErrOrder is the cause when rounds cannot be taken in an order.
var ErrOrder = errors.New("the rounds cannot be taken in this order")

// badOrder is the fixed summary of what can be wrong with an order.
const badOrder = "order does not fit"

// Round is what an order moves: one round of a stage with everything that it
// enters.
type Round struct {
	// Name is that of the stage, with the key of for_each in brackets.
	Name, Title string
	// Legs are the settings that it enters, one after the other.
	Legs []Stage
	// After names the rounds that must come before it, because it requires,
	// trusts or uses what they find, or blames them for what it finds. What
	// decides on quarantine also comes after everything harmless that stands
	// before it in the file.
	After []string
	// Behind, where it is not empty, names the rounds of which one must come
	// directly before it: a control that watches a supply let go shows nothing
	// where the supply was not on.
	Behind []string
}

// Hazard tells whether the round has a check that decides on quarantine.
func (r Round) Hazard() bool { return slices.ContainsFunc(r.Legs, Stage.hazard) }

// Checks returns the questions of the round in order, controls included.
func (r Round) Checks() []Check {
	var all []Check
	for _, leg := range r.Legs {
		all = append(all, leg.checks()...)
	}
	return all
}

// Rounds returns the rounds in the order in which they are taken, with what
// each of them needs before it. First come those of the empty nest, then the one
// that holds the probe.
func (s *Scenario) Rounds() []Round {
	var out []Round
	for _, st := range s.Stages {
		if n := len(out); n > 0 && out[n-1].Name == st.Name {
			out[n-1].Legs = append(out[n-1].Legs, st)
			continue
		}
		out = append(out, Round{Name: st.Name, Title: st.Title, Legs: []Stage{st}})
	}
	owner := map[string]int{} // of checks and readings
	for i, r := range out {
		for _, name := range r.gives() {
			owner[name] = i
		}
	}
	for i := range out {
		r := &out[i]
		for _, need := range r.needs() {
			if j, known := owner[need]; known && j < i && !slices.Contains(r.After, out[j].Name) {
				r.After = append(r.After, out[j].Name)
			}
		}
		for _, first := range out[:i] {
			// What the nest shows empty comes first, then the probe, and what
			// decides on quarantine stays behind what it stood behind: the order
			// of harm is the file's.
			opens := first.Legs[0].Unseated || first.Legs[0].probes()
			harm := r.Hazard() && !first.Hazard()
			if (opens || harm) && !slices.Contains(r.After, first.Name) {
				r.After = append(r.After, first.Name)
			}
		}
		if supply := r.watchesFall(); supply != "" {
			for j, other := range out {
				if j != i && other.leaves() == supply {
					r.Behind = append(r.Behind, other.Name)
				}
			}
		}
	}
	return out
}

// gives lists what a round brings: its checks and readings.
func (r Round) gives() []string {
	var out []string
	for _, leg := range r.Legs {
		for _, step := range leg.Steps {
			out = append(out, step.Label())
		}
	}
	return out
}

// needs lists what a round refers to, as names that gives lists.
func (r Round) needs() []string {
	var out []string
	uses := func(list ...Expr) {
		for _, e := range list {
			for _, name := range readingsOf(e) {
				out = append(out, stepOf(name))
			}
		}
	}
	for _, leg := range r.Legs {
		out = append(out, leg.Requires...)
		if leg.When != nil {
			uses(leg.When)
		}
		for _, step := range leg.Steps {
			switch s := step.(type) {
			case Reseat:
				uses(s.When)
			case Check:
				out = slices.Concat(out, s.Requires, s.Trusts, s.Because)
				uses(s.Value)
				for _, t := range []truth{s.When, s.Provided} {
					if t != nil {
						uses(t)
					}
				}
			}
		}
	}
	return out
}

// stepOf is the step that a reading comes from: its name without the part.
// Keys may hold points, names do not.
func stepOf(reading string) string {
	key := strings.LastIndexByte(reading, ']')
	if dot := strings.IndexByte(reading[key+1:], '.'); dot >= 0 {
		return reading[:key+1+dot]
	}
	return reading
}

// watchesFall names the supply whose letting go a control of the round's first
// leg watches; empty where there is none.
func (r Round) watchesFall() string {
	leg := r.Legs[0]
	falls := map[string]bool{}
	for _, step := range leg.Steps {
		if w, ok := step.(Wait); ok && w.Relation == bench.AtMost {
			falls[w.Name] = true
		}
	}
	for _, c := range leg.checks() {
		watches := c.Control == Negative && slices.ContainsFunc(readingsOf(c.Value), func(n string) bool { return falls[stepOf(n)] })
		if watches {
			return leg.Supply
		}
	}
	return ""
}

// leaves is the supply that is on when the round is over.
func (r Round) leaves() string { return r.Legs[len(r.Legs)-1].Supply }

// InOrder returns the scenario with its rounds in another order. It asks the
// same checks in the same settings. The error wraps ErrOrder where a round is
// missing, stands twice or comes before what it needs.
func (s *Scenario) InOrder(names []string) (*Scenario, error) {
	byName := map[string]Round{}
	for _, r := range s.Rounds() {
		byName[r.Name] = r
	}
	out := *s
	out.Stages = nil
	done := map[string]bool{}
	before := ""
	for _, name := range names {
		r, known := byName[name]
		switch {
		case !known:
			return nil, fmt.Errorf("there is no round %q: %w", name, ErrOrder)
		case done[name]:
			return nil, fmt.Errorf("%q stands twice: %w", name, ErrOrder)
		}
		if why := r.misplaced(done, before); why != "" {
			return nil, fmt.Errorf("%s: %w", why, ErrOrder)
		}
		done[name], before = true, name
		out.Stages = append(out.Stages, r.Legs...)
	}
	for _, r := range s.Rounds() {
		if !done[r.Name] {
			return nil, fmt.Errorf("%q is missing: %w", r.Name, ErrOrder)
		}
	}
	return &out, nil
}

// misplaced says why a round cannot come after those that are done, the last
// of which is before.
func (r Round) misplaced(done map[string]bool, before string) string {
	for _, need := range r.After {
		if !done[need] {
			return fmt.Sprintf("%q needs %q before it", r.Name, need)
		}
	}
	if len(r.Behind) > 0 && !slices.Contains(r.Behind, before) {
		return fmt.Sprintf("%q watches a supply let go and must come directly after one of %s", r.Name, strings.Join(r.Behind, "; "))
	}
	return ""
}

// reorder applies the order that the file states. Rounds that the product does
// not have may be named and are passed over.
func (l *loader) reorder(sc *Scenario, r *source.Reader) {
	list := r.Names("order", source.Optional)
	if len(list) == 0 || l.ds.HasErrors() {
		return
	}
	inFile := map[string]bool{}
	for _, s := range l.stages {
		for _, round := range s.rounds {
			inFile[keyed(s.name, round.key)] = true
		}
	}
	here := map[string]bool{}
	for _, x := range sc.Rounds() {
		here[x.Name] = true
	}
	var names []string
	for _, t := range list {
		switch {
		case here[t.Value]:
			names = append(names, t.Value)
		case !inFile[t.Value]:
			l.ds.Add(t.Range, badOrder, "There is no round %q; an order names stages, with the key of for_each in brackets.", t.Value)
		}
	}
	if l.ds.HasErrors() {
		return
	}
	moved, err := sc.InOrder(names)
	if err != nil {
		l.ds.Add(r.Range("order"), badOrder, "%s.", capital(strings.TrimSuffix(err.Error(), ": "+ErrOrder.Error())))
		return
	}
	*sc = *moved
}

// supplyOf names the supply whose output a state connects; empty without one.
// A supply hangs on its contacts, so that one with a contact closed is meant.
func supplyOf(rig *wiring.Rig, state wiring.State) string {
	for _, s := range rig.Supplies {
		if s.Kind != wiring.LegacyA && s.Kind != wiring.CSupply && s.Kind != wiring.Portable {
			continue
		}
		for _, k := range rig.Relays {
			touches := slices.ContainsFunc(k.Contacts, func(c wiring.Contact) bool { return c.NO != "" && (c.Common == s.Vbus || c.NO == s.Vbus) })
			if touches && state.Holds(k.Name) {
				return s.Name
			}
		}
	}
	return ""
}
