package scenarios

import (
	"slices"

	"github.com/hashicorp/hcl/v2/hclsyntax"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/source"
)

// declaration is a name of the file: a step or a check.
type declaration struct {
	name, kind string
	// stage and step count where it stands; steps of a "lifted" block have
	// the step of their control.
	stage, step int
	// lifted names the control in whose "lifted" block it stands.
	lifted string
	keys   []string // of for_each; nil without one
	// parts are the readings it gives: "" is the one called by the name alone.
	parts map[string]quantity.Dim
	at    source.Range
}

// earlier tells whether it stands before a place of the file.
func (d *declaration) earlier(stage, step int) bool {
	return d.stage < stage || d.stage == stage && d.step < step
}

// stepKinds are the blocks of a stage that have a name.
func stepKinds() []string {
	return []string{"probe", "given", "wait", "read", "sample", "capture", "check", "control"}
}

// liftedKinds are those of them that a "lifted" block takes.
func liftedKinds() []string { return []string{"wait", "read", "sample"} }

// declare is the first pass: every name with its place and its readings.
func (l *loader) declare() {
	for i, s := range l.stages {
		s.rounds = l.rounds(s.reader)
		if s.body == nil {
			continue
		}
		var keys []string
		for _, r := range s.rounds {
			if r.key != "" {
				keys = append(keys, r.key)
			}
		}
		s.steps = l.stepsOf(s.body, true)
		for j, step := range s.steps {
			l.declareStep(step, &declaration{stage: i, step: j, keys: keys})
			for _, in := range step.inside {
				l.declareStep(in, &declaration{stage: i, step: j, keys: keys, lifted: step.name})
			}
		}
	}
	for _, r := range l.interlocks {
		l.enlist(&declaration{name: r.Label(0).Value, kind: "interlock", stage: len(l.stages), at: r.Label(0).Range})
	}
}

// stepsOf lists the steps of a stage, or of a "lifted" block, in order.
func (l *loader) stepsOf(body *hclsyntax.Body, whole bool) []stepSource {
	var out []stepSource
	for _, b := range body.Blocks {
		named := (b.Type == "enter" || slices.Contains(stepKinds(), b.Type)) && len(b.Labels) == 1
		inLifted := b.Type == "enter" || slices.Contains(liftedKinds(), b.Type)
		switch {
		case b.Type == "reseat" && len(b.Labels) == 0 && whole:
			out = append(out, stepSource{kind: b.Type, name: "reseat", block: b})
		case named && (whole || inLifted):
			s := stepSource{kind: b.Type, name: b.Labels[0], block: b}
			if b.Type == "control" {
				for _, in := range b.Body.Blocks {
					if in.Type == "lifted" {
						s.inside = append(s.inside, l.stepsOf(in.Body, false)...)
					}
				}
			}
			out = append(out, s)
		}
	}
	return out
}

func (l *loader) declareStep(s stepSource, d *declaration) {
	if s.kind == "reseat" || s.kind == "enter" {
		return
	}
	d.name, d.kind = s.name, s.kind
	d.at = s.block.LabelRanges[0]
	d.parts = l.parts(s)
	l.enlist(d)
}

func (l *loader) enlist(d *declaration) {
	if first, twice := l.declared[d.name]; twice {
		if first.kind == d.kind && first.stage == d.stage && first.lifted == d.lifted {
			return // the reader of the stage says so
		}
		l.ds.Add(d.at, nameTwice, "The name %q is taken by the %s on line %d; every step and check needs its own.",
			d.name, first.kind, first.at.Start.Line)
		return
	}
	l.declared[d.name] = d
	l.order = append(l.order, d.name)
}

// parts gives the readings of a step with their dimensions.
func (l *loader) parts(s stepSource) map[string]quantity.Dim {
	switch s.kind {
	case "probe":
		return map[string]quantity.Dim{"capacitance": quantity.Capacitance, "level": quantity.Voltage, "top": quantity.Voltage}
	case "given":
		return map[string]quantity.Dim{"": l.givenDim(s.block.Body)}
	case "wait":
		return map[string]quantity.Dim{"": quantity.Time, "value": l.channelDim(s.block.Body, "until", "channel")}
	case "read":
		return map[string]quantity.Dim{"": l.channelDim(s.block.Body, "channel")}
	case "sample":
		d := l.channelDim(s.block.Body, "channel")
		return map[string]quantity.Dim{"min": d, "max": d, "mean": d}
	}
	return nil
}

// channelDim looks for a channel in an attribute without judging it; the
// second pass does.
func (l *loader) channelDim(body *hclsyntax.Body, attributes ...string) quantity.Dim {
	for _, name := range attributes {
		a, ok := body.Attributes[name]
		if !ok {
			continue
		}
		e := a.Expr
		if b, ok := e.(*hclsyntax.BinaryOpExpr); ok {
			e = b.LHS
		}
		p, ok := pathOf(l.file, e)
		if !ok || p.root != "channel" || len(p.names) != 1 {
			continue
		}
		if ch, ok := l.rig.Channel(p.names[0]); ok {
			return dimOf(ch.Kind)
		}
	}
	return quantity.Number
}

// givenDim is the dimension of the example in "as".
func (l *loader) givenDim(body *hclsyntax.Body) quantity.Dim {
	if a, ok := body.Attributes["as"]; ok {
		if t, ok := l.file.Literal(a.Expr); ok {
			if q, err := quantity.Parse(t.Value); err == nil {
				return q.Dim
			}
		}
	}
	return quantity.Number
}

// dimOf is the dimension of what a channel reads. A light sensor gives the
// voltage of its net.
func dimOf(k wiring.ChannelKind) quantity.Dim {
	switch k {
	case wiring.CurrentChannel:
		return quantity.Current
	case wiring.TerminationChannel:
		return quantity.Resistance
	case wiring.TemperatureChannel:
		return quantity.Temperature
	}
	return quantity.Voltage
}

// readings lists the names of steps that measure.
func (l *loader) readings() []string {
	return l.namesOf(func(d *declaration) bool { return d.parts != nil })
}

func (l *loader) namesOf(is func(*declaration) bool) []string {
	var out []string
	for _, name := range l.order {
		if is(l.declared[name]) {
			out = append(out, name)
		}
	}
	return out
}
