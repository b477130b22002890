package scenarios

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2/hclsyntax"

	"sinkproof/bench/wiring"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
)

// The fixed summaries of what can be wrong with a stage.
const (
	noCondition      = "no condition"
	unknownCondition = "unknown condition"
	unknownAxis      = "unknown axis"
	unknownAxisValue = "unknown value of an axis"
	probeFirst       = "probe comes first"
	notReached       = "condition not reached"
	noGate           = "no gate"
	emptyStage       = "stage without steps"
)

// The conditions that every rig has: the one that a probe enters by itself,
// and the safe one.
const (
	probeCondition = "probe-vbus"
	isolated       = "isolated"
)

// build is the second pass: every stage, round by round, in order.
func (l *loader) build(sc *Scenario) {
	l.probed = -1
	l.proveProbe()
	l.proveUnseated()
	for i, s := range l.stages {
		for _, r := range s.rounds {
			f := &frame{loader: l, stage: i, round: r}
			legs, why := f.buildStage(s)
			if r.why != "" {
				why = r.why
			}
			for _, leg := range legs {
				l.sort(sc, leg, why)
			}
		}
		if len(s.rounds) > 0 {
			s.reader.Close()
		}
	}
	for _, r := range l.interlocks {
		sc.Interlocks = append(sc.Interlocks, l.interlock(r))
	}
}

// sort takes a stage into the scenario; the checks that the product makes
// impossible go to the list of those that are not observable.
func (l *loader) sort(sc *Scenario, stage Stage, why string) {
	var steps []Step
	for _, step := range stage.Steps {
		reason, gone := l.excluded[step.Label()]
		if why != "" {
			reason, gone = why, true
			l.excluded[step.Label()] = why
		}
		if !gone {
			steps = append(steps, step)
			continue
		}
		if c, ok := step.(Check); ok {
			sc.NotObservable = append(sc.NotObservable, record.NotObservable{Check: c.Name, Title: c.Title, Why: reason})
		}
	}
	stage.Steps = steps
	if len(steps) > 0 {
		sc.Stages = append(sc.Stages, stage)
	}
}

// proveProbe demands that the first stage shows who is seated: nothing may be
// asked of a unit, and no power applied, before that is known.
func (l *loader) proveProbe() {
	for i, s := range l.stages {
		for _, step := range s.steps {
			switch {
			case step.kind == "probe" && l.probed < 0:
				l.probed = i
			case step.kind == "probe":
				l.ds.Add(step.block.DefRange(), misplacedBlock, "A scenario probes once, in its first stage; a reseat probes again by itself.")
			}
		}
	}
	if first := l.first(); l.probed != first && len(l.stages) > 0 {
		l.ds.Add(l.stages[first].reader.Header(), probeFirst,
			"The first stage must hold a probe: nothing is asked before it is known that a unit is seated.")
	}
}

// buildStage reads one round of a stage: its legs. The text says why the
// product makes all of it impossible; empty when it does not.
func (f *frame) buildStage(s *stageSource) ([]Stage, string) {
	r := s.reader
	st := Stage{Name: keyed(s.name, f.round.key), Unseated: s.unseated, Title: f.titled(r.String("title", source.Optional).Value)}
	r.Has("for_each")
	for _, kind := range stepKinds() {
		r.Blocks(kind, 1)
	}
	r.Blocks("reseat", 0)
	r.BlocksOf(1, "enter")
	if len(s.steps) == 0 {
		f.ds.Add(r.Header(), emptyStage, "The stage %q does nothing; it needs a step or a check.", s.name)
	}
	st.Requires = f.references(r, "requires", "check", "control")
	when, why := f.condition(r, "when")
	st.When = when
	legs := f.legs(s, st)
	f.proveGate(s, legs)
	return legs, why
}

// legs reads the steps of a stage. What follows an enter block is a leg: a
// stage of its own when it is run, with what the whole stage requires.
func (f *frame) legs(s *stageSource, whole Stage) []Stage {
	var out []Stage
	begin := func(set wiring.Setting, powered bool) {
		leg := whole
		leg.Setting, leg.Powered = set, powered
		if f.state != nil {
			leg.Supply = supplyOf(f.rig, *f.state)
		}
		if leg.Title == "" {
			leg.Title = f.conditionTitle(set)
		}
		out = append(out, leg)
	}
	probing := s.probes()
	if probing {
		begin(f.proved(wiring.Setting{Condition: probeCondition}, s.reader.Header()))
	}
	for i, step := range s.steps {
		f.step = i
		switch {
		case step.kind == "enter" && probing:
			f.ds.Add(step.block.DefRange(), misplacedBlock, "A stage with a probe enters nothing: the probe enters %s by itself.", probeCondition)
			continue
		case step.kind == "enter":
			if i+1 == len(s.steps) || s.steps[i+1].kind == "enter" {
				f.ds.Add(step.block.DefRange(), emptyStage, "Nothing is done in %q; its enter block needs a step or a check behind it.", step.name)
			}
			begin(f.setting(step))
			continue
		case len(out) == 0:
			f.ds.Add(step.block.DefRange(), noCondition, "The stage %q has entered nothing yet; put an enter block, such as enter \"legacy-a\" {}, before this.", s.name)
			begin(wiring.Setting{}, false)
		}
		leg := &out[len(out)-1]
		if built := f.buildStep(step, leg.Setting.Condition); built != nil {
			leg.Steps = append(leg.Steps, built)
		}
	}
	return out
}

// probes tells whether a stage of the file holds a probe.
func (s *stageSource) probes() bool {
	return slices.ContainsFunc(s.steps, func(x stepSource) bool { return x.kind == "probe" })
}

// titled adds the key of the round, so that a report tells rounds apart.
func (f *frame) titled(title string) string {
	if title == "" || f.round.key == "" {
		return title
	}
	return title + " (" + f.round.key + ")"
}

func (f *frame) conditionTitle(s wiring.Setting) string {
	if c, ok := f.rig.Condition(s.Condition); ok && c.Title != "" {
		return f.titled(c.Title)
	}
	return f.titled(s.Condition)
}

// setting reads an enter block and proves that the rig can be there.
func (f *frame) setting(s stepSource) (wiring.Setting, bool) {
	r := source.NewBlockReader(f.file, s.block, &f.ds)
	defer r.Close()
	f.state = nil
	set := wiring.Setting{Condition: s.name}
	attributes := inOrderOf(s.block.Body)
	for _, a := range attributes {
		r.Has(a.Name)
	}
	c, ok := f.conditionNamed(set.Condition, r.Label(0).Range)
	if !ok {
		return set, false
	}
	set.Axes = f.axes(attributes, c)
	return f.proved(set, r.Header())
}

// axes reads the choices of an enter block.
func (f *frame) axes(attributes []*hclsyntax.Attribute, c *wiring.Condition) []wiring.AxisChoice {
	var out []wiring.AxisChoice
	for _, a := range attributes {
		axis, ok := c.Axis(a.Name)
		if !ok {
			var known []string
			for _, x := range c.Axes {
				known = append(known, x.Name)
			}
			f.ds.Add(a.NameRange, unknownAxis, "The condition %q has no axis %q.%s", c.Name, a.Name, source.Suggest(a.Name, known))
			continue
		}
		text, ok := f.text(a.Expr)
		if !ok {
			continue
		}
		if _, ok := axis.Value(text.Value); !ok {
			var known []string
			for _, v := range axis.Values {
				known = append(known, v.Name)
			}
			f.ds.Add(a.Expr.Range(), unknownAxisValue, "The axis %q of %q has no value %q.%s", axis.Name, c.Name, text.Value, source.Suggest(text.Value, known))
			continue
		}
		out = append(out, wiring.AxisChoice{Axis: axis.Name, Value: text.Value})
	}
	return out
}

// inOrderOf lists the attributes of a block in the order of the file.
func inOrderOf(body *hclsyntax.Body) []*hclsyntax.Attribute {
	return slices.SortedFunc(maps.Values(body.Attributes), func(a, b *hclsyntax.Attribute) int {
		return a.SrcRange.Start.Byte - b.SrcRange.Start.Byte
	})
}

// text reads a text, or what each.NAME stands for.
func (f *frame) text(e hclsyntax.Expression) (source.Text, bool) {
	if t, ok := f.file.Literal(e); ok {
		return t, true
	}
	if p, ok := pathOf(f.file, e); ok && p.root == "each" {
		return f.each(p)
	}
	f.ds.Add(e.Range(), notInLanguage, "%s cannot stand here; it takes a text in quotes, or each.NAME.", capital(describe(e)))
	return source.Text{}, false
}

// proved proves from the wiring that the setting exists and what it needs has
// come before.
func (f *frame) proved(set wiring.Setting, at source.Range) (wiring.Setting, bool) {
	c, ok := f.conditionNamed(set.Condition, at)
	if !ok {
		return set, false
	}
	state, err := f.rig.Expand(set)
	if err != nil {
		f.unreached(at, c, err.Error())
		return set, false
	}
	f.state = &state
	for _, need := range c.Needs {
		if !f.entersBefore(need) {
			f.unreached(at, c, fmt.Sprintf("it needs that %q has passed in the same run, and no stage before this one enters it", need))
		}
	}
	return set, len(c.Needs) > 0
}

func (f *frame) unreached(at source.Range, c *wiring.Condition, why string) {
	f.ds.Add(at, notReached, "%q cannot be entered here: %s.", c.Name, why)
}

// conditionNamed looks a condition of the rig up.
func (f *frame) conditionNamed(name string, at source.Range) (*wiring.Condition, bool) {
	c, ok := f.rig.Condition(name)
	if ok {
		return c, true
	}
	var known []string
	for _, c := range f.rig.Conditions {
		known = append(known, c.Name)
	}
	f.ds.Add(at, unknownCondition, "The rig %q has no condition %q.%s", f.rig.Name, name, source.Suggest(name, known))
	return nil, false
}

// entersBefore tells whether a condition is entered before this place.
func (f *frame) entersBefore(condition string) bool {
	if condition == probeCondition {
		return f.probed >= 0 && f.probed < f.stage
	}
	for i, s := range f.stages[:f.stage+1] {
		for j, step := range s.steps {
			before := i < f.stage || j < f.step
			if before && step.kind == "enter" && step.name == condition {
				return true
			}
		}
	}
	return false
}

// proveGate demands that something decides whether power may be applied.
func (f *frame) proveGate(s *stageSource, legs []Stage) {
	gate := slices.ContainsFunc(legs, func(leg Stage) bool {
		return slices.ContainsFunc(leg.checks(), func(c Check) bool { return c.Gate })
	})
	if s.probes() && f.stage == f.probed && !gate {
		f.ds.Add(s.reader.Header(), noGate, "Nothing decides whether the bench may apply power; mark a check of the probe with gate = true.")
	}
}

// condition reads "when". It is nil when the product alone decides; the text
// then says why it is not so, and is empty when it is.
func (f *frame) condition(r *source.Reader, name string) (truth, string) {
	e, ok := r.Expression(name, source.Optional, "a comparison")
	if !ok {
		return nil, ""
	}
	f.channels, f.readings = false, true
	t := f.compiler().truth(e)
	if t == nil {
		return nil, ""
	}
	holds, fixed := settled(t)
	switch {
	case fixed && holds:
		return nil, ""
	case fixed:
		return nil, reasons(t)
	}
	return t, ""
}

// references reads a list of names of earlier checks. A name of several
// rounds stands for all of them, or within its stage for the same round.
func (f *frame) references(r *source.Reader, attribute string, kinds ...string) []string {
	var out []string
	for _, t := range r.Names(attribute, source.Optional) {
		name, key, bracket := strings.Cut(strings.TrimSuffix(t.Value, "]"), "[")
		d, ok := f.declared[name]
		if !ok || !slices.Contains(kinds, d.kind) {
			f.ds.Add(t.Range, unknownName, "There is no %s %q.%s", strings.Join(kinds, " or "), name,
				source.Suggest(name, f.namesOf(func(d *declaration) bool { return slices.Contains(kinds, d.kind) })))
			continue
		}
		if attribute != "because" && !d.earlier(f.stage, f.step) {
			f.ds.Add(t.Range, tooEarly, "%q is asked on line %d, which comes later; it has no answer yet.", name, d.at.Start.Line)
			continue
		}
		out = append(out, f.named(t, d, key, bracket)...)
	}
	return out
}

func (f *frame) named(t source.Text, d *declaration, key string, bracket bool) []string {
	switch {
	case bracket && !slices.Contains(d.keys, key):
		f.ds.Add(t.Range, unknownName, "%q is not asked in a round %q.%s", d.name, key, source.Suggest(key, d.keys))
		return nil
	case bracket:
		return []string{keyed(d.name, key)}
	case len(d.keys) == 0:
		return []string{d.name}
	case d.stage == f.stage:
		return []string{keyed(d.name, f.round.key)}
	}
	var all []string
	for _, k := range d.keys {
		all = append(all, keyed(d.name, k))
	}
	return all
}
