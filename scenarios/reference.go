package scenarios

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
)

// The fixed summaries of what can be wrong with a reference.
const (
	unknownName    = "unknown name"
	tooEarly       = "reading used before it is taken"
	whichRound     = "reading of several rounds"
	channelHere    = "channel out of place"
	unreadable     = "channel not readable here"
	liftedReading  = "reading of a lifted unit"
	readingInLimit = "reading out of place"
)

// frame is the place of the file that is being read: it resolves names as
// they are known there.
type frame struct {
	*loader
	stage, step int
	round       round
	// state is what the rig is in; nil where nothing was entered.
	state *wiring.State
	// channels and readings tell whether references to them may stand here.
	channels, readings bool
	// lifted names the control whose "lifted" block this is.
	lifted string
	// absent is the reason when something was named that the product makes
	// impossible.
	absent string
}

func roots() []string { return []string{"reading", "channel", "product", "has", "each"} }

// compiler returns a compiler of expressions at this place.
func (f *frame) compiler() *compiler { return &compiler{f.file, &f.ds, f} }

// resolve implements resolver.
func (f *frame) resolve(p path) Expr {
	switch p.root {
	case "channel":
		return f.channel(p)
	case "reading":
		return f.reading(p)
	case "product":
		return f.parameter(p)
	case "has":
		return f.fact(p)
	}
	f.ds.Add(p.at, unknownName, "%q is nothing that can be referred to.%s", p.root, source.Suggest(p.root, roots()))
	return nil
}

// absence implements resolver.
func (f *frame) absence() *string { return &f.absent }

// each implements resolver.
func (f *frame) each(p path) (source.Text, bool) {
	if len(p.names) == 1 && p.key == nil && p.keyRef == nil {
		if t, ok := f.round.fields[p.names[0]]; ok {
			return t, true
		}
	}
	known := slices.Sorted(maps.Keys(f.round.fields))
	if len(known) == 0 {
		f.ds.Add(p.at, unknownName, "There is no for_each around this, so \"each\" stands for nothing.")
		return source.Text{}, false
	}
	name := strings.Join(p.names, ".")
	f.ds.Add(p.at, unknownName, "The rounds of for_each have no %q.%s", name, source.Suggest(name, known))
	return source.Text{}, false
}

func (f *frame) channel(p path) Expr {
	name, dim, ok := f.channelName(p)
	if !ok {
		return nil
	}
	if !f.channels {
		f.ds.Add(p.at, channelHere, "A channel cannot be read here; take it in a step before and name the reading.")
		return nil
	}
	return channelRef{name, dim}
}

// channelName proves that a path is a channel that can be read in this state.
func (f *frame) channelName(p path) (string, quantity.Dim, bool) {
	name := strings.Join(p.names, ".")
	ch, ok := f.rig.Channel(name)
	if !ok || p.key != nil || p.keyRef != nil {
		var known []string
		for _, c := range f.rig.Channels {
			known = append(known, c.Name)
		}
		f.ds.Add(p.at, unknownName, "The rig %q has no channel %q.%s", f.rig.Name, name, source.Suggest(name, known))
		return "", 0, false
	}
	if f.state != nil {
		if why := unreadableIn(ch, *f.state); why != "" {
			f.ds.Add(p.at, unreadable, "%s cannot be read in %s: %s.", name, f.state.Setting.Condition, why)
			return "", 0, false
		}
	}
	return name, dimOf(ch.Kind), true
}

// unreadableIn says why a channel has no value in a state; empty when it has.
// A termination needs exactly one known pull-up, a current the range that the
// relays have chosen.
func unreadableIn(ch *wiring.Channel, s wiring.State) string {
	switch ch.Kind {
	case wiring.TerminationChannel:
		n := 0
		for _, p := range ch.Pulls {
			if s.Holds(p.Relay) {
				n++
			}
		}
		if n != 1 {
			return fmt.Sprintf("it needs exactly one of its pull-ups, and %d are connected", n)
		}
	case wiring.CurrentChannel:
		if len(ch.Ranges) == 0 {
			return ""
		}
		for _, r := range ch.Ranges {
			if r.Relay == "" || s.Holds(r.Relay) != r.Off {
				return ""
			}
		}
		return "no range of it is connected"
	}
	return ""
}

// reading resolves reading.NAME, reading.NAME.PART and reading.NAME["KEY"].
func (f *frame) reading(p path) Expr {
	if len(p.names) == 0 {
		f.ds.Add(p.at, unknownName, "A reading is called by its name, as in reading.rd-1.")
		return nil
	}
	d, ok := f.declared[p.names[0]]
	if !ok || d.parts == nil {
		f.ds.Add(p.spots[0], unknownName, "No step takes a reading called %q.%s", p.names[0], source.Suggest(p.names[0], f.loader.readings()))
		return nil
	}
	if !f.readings {
		f.ds.Add(p.at, readingInLimit, "A reading cannot stand here; the level must be known when the file is loaded.")
		return nil
	}
	key, ok := f.keyOf(p, d)
	if !ok || !f.inOrder(p, d) {
		return nil
	}
	part := ""
	if len(p.names) > 1 {
		part = strings.Join(p.names[1:], ".")
	}
	dim, ok := d.parts[part]
	if !ok || p.keyAt > 1 {
		f.ds.Add(p.at, unknownName, "The %s %q has no reading %q.%s", d.kind, d.name, part, partsOf(d))
		return nil
	}
	full := keyed(d.name, key)
	if why, gone := f.excluded[full]; gone {
		f.absent = why
	}
	if part != "" {
		full += "." + part
	}
	return readingRef{full, dim}
}

// inOrder proves that a reading is there when it is needed.
func (f *frame) inOrder(p path, d *declaration) bool {
	switch {
	case d.lifted != "" && d.lifted != f.lifted:
		f.ds.Add(p.at, liftedReading, "%q is taken only when the control %q has failed and the unit is lifted; nothing else can use it.", d.name, d.lifted)
		return false
	case d.lifted == "" && f.lifted != "":
		f.ds.Add(p.at, liftedReading, "%q was taken with the unit seated; the value of \"lifted\" is made of its own steps.", d.name)
		return false
	case d.lifted == "" && !d.earlier(f.stage, f.step):
		f.ds.Add(p.at, tooEarly, "%q is taken on line %d, which comes later; put the step before this one.", d.name, d.at.Start.Line)
		return false
	}
	return true
}

func partsOf(d *declaration) string {
	var with []string
	for part := range d.parts {
		if part != "" {
			with = append(with, d.name+"."+part)
		}
	}
	slices.Sort(with)
	if _, plain := d.parts[""]; plain {
		with = append([]string{d.name}, with...)
	}
	return " It has: " + strings.Join(with, ", ") + "."
}

// keyOf finds the round that a reading is meant of: the one written, or the
// round of this place within one stage.
func (f *frame) keyOf(p path, d *declaration) (string, bool) {
	key := ""
	switch {
	case p.keyRef != nil:
		t, ok := f.each(*p.keyRef)
		if !ok {
			return "", false
		}
		key = t.Value
	case p.key != nil:
		key = p.key.Value
	case len(d.keys) == 0:
		return "", true
	case d.stage == f.stage:
		return f.round.key, true
	default:
		f.ds.Add(p.at, whichRound, "%q is taken in several rounds; say which, as in reading.%s[%q].", d.name, d.name, d.keys[0])
		return "", false
	}
	if !slices.Contains(d.keys, key) {
		f.ds.Add(p.at, unknownName, "%q is not taken in a round %q.%s", d.name, key, source.Suggest(key, d.keys))
		return "", false
	}
	return key, true
}

// parameter resolves product.NAME, and product.NAME.low and .high for the
// ends of its tolerance.
func (f *frame) parameter(p path) Expr {
	name, end := strings.Join(p.names, "."), ""
	if n := len(p.names); n > 1 && (p.names[n-1] == "low" || p.names[n-1] == "high") {
		name, end = strings.Join(p.names[:n-1], "."), p.names[n-1]
	}
	dim, known := product.ParameterDim(name)
	if !known || p.key != nil || p.keyRef != nil {
		f.ds.Add(p.at, unknownName, "No product has a parameter %q.%s", name, source.Suggest(name, product.KnownParameters()))
		return nil
	}
	t, ok := f.prod.Parameter(name)
	if !ok {
		f.absent = fmt.Sprintf("the product %q does not give %s", f.prod.Name, name)
		t.Nominal = quantity.Quantity{SI: 1, Dim: dim}
	}
	q := t.Nominal
	switch end {
	case "low":
		q = t.Low()
	case "high":
		q = t.High()
	}
	return literal{q, "product." + strings.Join(p.names, ".")}
}

// fact resolves has.NAME.
func (f *frame) fact(p path) Expr {
	name := strings.Join(p.names, ".")
	if known, ok := factOf(f.prod, name); ok {
		return known
	}
	f.ds.Add(p.at, unknownName, "Nothing is known about %q of a product.%s", name, source.Suggest(name, product.Features()))
	return nil
}
