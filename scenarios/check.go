package scenarios

import (
	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
)

// The fixed summaries of what can be wrong with a check.
const (
	noLimit       = "no limit"
	limitsCrossed = "limits crossed"
	noSource      = "limit without a source"
	noMeasurement = "nothing measured"
	badControl    = "control not complete"
	badInterlock  = "unknown interlock"
	badProvided   = "provided without otherwise"
)

// check reads a check or a control.
func (f *frame) check(r *source.Reader, s stepSource, name, title, condition string) Step {
	c := Check{Name: name, Title: title, Condition: condition, Bin: record.BinRework}
	f.value(r, &c)
	f.limits(r, &c)
	c.Source = r.String("source", source.Optional).Value
	if c.Source == "" {
		f.ds.Add(r.Header(), noSource, "The limits of %q do not say where they come from; write source = \"...\", and \"common practice, no source\" where that is so.", s.name)
	}
	if t := r.OneOf("bin", source.Optional, string(record.BinRework), string(record.BinQuarantine)); t.Value != "" {
		c.Bin = record.Bin(t.Value)
	}
	if s.kind == "control" {
		f.control(r, s, &c)
	} else {
		c.Rework = r.String("rework", source.Required).Value
		c.Gate = f.gate(r)
		c.Trusts = f.references(r, "trusts", "control")
	}
	c.Requires = f.references(r, "requires", "check", "control")
	c.Because = f.references(r, "because", "check", "control", "interlock")
	f.asked(r, &c)
	return c
}

// value reads what is judged.
func (f *frame) value(r *source.Reader, c *Check) {
	e, ok := r.Expression("value", source.Required, "an expression")
	if !ok {
		return
	}
	f.channels, f.readings = true, true
	if c.Value = f.compiler().value(e); c.Value == nil {
		return
	}
	if constant(c.Value) {
		f.ds.Add(e.Range(), noMeasurement, "%s is known without measuring; a check judges a channel or a reading.", c.Value)
	}
	if _, err := record.Unit(c.Value.Dim()); err != nil {
		f.ds.Add(e.Range(), dimensionsMix, "The value is %s, for which a record has no unit.", aDim(c.Value.Dim()))
	}
}

// limits reads low and high.
func (f *frame) limits(r *source.Reader, c *Check) {
	c.Low, c.High = f.limit(r, "low", c), f.limit(r, "high", c)
	switch {
	case !r.Has("low") && !r.Has("high"):
		f.ds.Add(r.Header(), noLimit, "%q has nothing to be held against; give it low, high or both.", r.Label(0).Value)
	case c.Low != nil && c.High != nil && c.Low.SI > c.High.SI && f.absent == "":
		f.ds.Add(r.Range("high"), limitsCrossed, "The high limit, %s, is below the low limit, %s.", *c.High, *c.Low)
	}
}

func (f *frame) limit(r *source.Reader, name string, c *Check) *quantity.Quantity {
	e, ok := r.Expression(name, source.Optional, "a limit")
	if !ok {
		return nil
	}
	if c.Value == nil {
		// There is nothing to compare with, but the limit may have mistakes too.
		f.channels, f.readings = false, false
		f.compiler().value(e)
		return nil
	}
	q := f.constant(e, c.Value.Dim())
	return &q
}

// gate reads the mark of the checks that must pass before power is applied.
func (f *frame) gate(r *source.Reader) bool {
	gate := r.Bool("gate", source.Optional)
	if gate && f.stage != f.probed {
		f.ds.Add(r.Range("gate"), misplacedBlock, "A gate stands in the stage of the probe; this check comes after power was applied.")
	}
	return gate
}

// asked reads under which circumstances the check is put.
func (f *frame) asked(r *source.Reader, c *Check) {
	when, why := f.condition(r, "when")
	c.When = when
	if why != "" {
		f.excluded[c.Name] = why
	}
	c.ProvidedWhy = r.String("otherwise", source.Optional).Value
	e, ok := r.Expression("provided", source.Optional, "a comparison")
	if ok {
		f.channels, f.readings = false, true
		c.Provided = f.compiler().truth(e)
	}
	if ok != (c.ProvidedWhy != "") {
		f.ds.Add(r.Header(), badProvided, "%q needs both or neither of provided, which must be true for the answer to mean something, and otherwise, which says what is missing.", r.Label(0).Value)
	}
}

// control reads what only a control has.
func (f *frame) control(r *source.Reader, s stepSource, c *Check) {
	c.Control = r.OneOf("kind", source.Required, Negative, Positive).Value
	c.Rework = r.String("rework", source.Optional).Value
	b, ok := r.Block("lifted", source.Need(!f.stages[f.stage].unseated))
	if !ok {
		return
	}
	for _, kind := range liftedKinds() {
		b.Blocks(kind, 1)
	}
	b.BlocksOf(1, "enter")
	in := *f
	in.lifted = s.name
	l := &Lifted{Steps: in.liftedSteps(s.inside, c.Condition)}
	if e, ok := b.Expression("value", source.Required, "an expression"); ok {
		in.channels, in.readings = true, true
		l.Value = in.compiler().value(e)
		if l.Value != nil && c.Value != nil && l.Value.Dim() != c.Value.Dim() {
			f.ds.Add(e.Range(), badControl, "With the unit lifted the control asks for %s, and with the unit seated for %s; the limits are the same, so the dimensions must be.",
				aDim(l.Value.Dim()), aDim(c.Value.Dim()))
		}
	}
	b.Close()
	c.Lifted = l
}

// liftedSteps reads the steps of a "lifted" block. They begin in the setting
// of the control, unless they enter another one first.
func (f *frame) liftedSteps(inside []stepSource, condition string) []Step {
	var out []Step
	if f.state != nil && (len(inside) == 0 || inside[0].kind != "enter") {
		out = append(out, Enter{f.state.Setting})
	}
	for _, step := range inside {
		if step.kind == "enter" {
			set, _ := f.setting(step)
			out = append(out, Enter{set})
			continue
		}
		if built := f.buildStep(step, condition); built != nil {
			out = append(out, built)
		}
	}
	return out
}

// heldUp is the name of the trip that is no interlock of the guard: VBUS that
// does not fall although every coil is off.
const heldUp = "vbus-held"

// interlockNames are the trips that a unit can cause, by the name that a
// scenario gives them.
func interlockNames() map[string]bench.InterlockKind {
	return map[string]bench.InterlockKind{
		"over-current": bench.OverCurrent,
		"over-voltage": bench.OverVoltage,
		heldUp:         "VBUS held up",
	}
}

// interlock reads a check that the guard answers: it fails when the guard
// tripped and does not trip without the unit.
func (l *loader) interlock(r *source.Reader) Check {
	defer r.Close()
	name := r.Label(0).Value
	if _, ok := interlockNames()[name]; !ok {
		l.ds.Add(r.Label(0).Range, badInterlock, "The guard has no trip %q that a unit can cause.%s", name,
			source.Suggest(name, []string{"over-current", "over-voltage", heldUp}))
	}
	c := Check{
		Name: name, Bin: record.BinRework,
		Title:  r.String("title", source.Required).Value,
		Rework: r.String("rework", source.Required).Value,
	}
	if t := r.OneOf("bin", source.Optional, string(record.BinRework), string(record.BinQuarantine)); t.Value != "" {
		c.Bin = record.Bin(t.Value)
	}
	f := &frame{loader: l, stage: len(l.stages)}
	c.Because = f.references(r, "because", "check", "control")
	return c
}
