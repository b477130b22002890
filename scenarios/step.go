package scenarios

import (
	"math"
	"time"

	"github.com/hashicorp/hcl/v2/hclsyntax"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/fixtures/source"
)

// The fixed summaries of what can be wrong with a step.
const (
	badTime      = "time out of range"
	badWait      = "wait for nothing"
	badBand      = "band out of range"
	badThreshold = "threshold out of place"
)

// longest bounds every wait: a run of an hour has a mistake in it. No source;
// the longest wait of the shipped scenarios is 2.5 s.
const longest = 10 * time.Minute

// buildStep reads one step; nil when it has a mistake.
func (f *frame) buildStep(s stepSource, condition string) Step {
	r := source.NewBlockReader(f.file, s.block, &f.ds)
	defer r.Close()
	name := keyed(s.name, f.round.key)
	f.absent = ""
	defer func() {
		if _, listed := f.excluded[name]; f.absent != "" && !listed {
			f.excluded[name] = f.absent
		}
	}()
	title := ""
	if s.kind != "reseat" {
		f.loader.name(r.Label(0))
		title = f.titled(r.String("title", needTitle(s.kind)).Value)
	}
	if title == "" {
		title = name
	}
	switch s.kind {
	case "probe":
		return Probe{name, title}
	case "given":
		return f.given(r, name, title)
	case "wait":
		return f.wait(r, name, title)
	case "read":
		return f.read(r, name, title)
	case "sample":
		return f.sample(r, name, title)
	case "capture":
		return f.capture(r, name, title)
	case "reseat":
		return f.reseat(r)
	}
	return f.check(r, s, name, title, condition)
}

// needTitle: what the report prints by its title must have one.
func needTitle(kind string) source.Need {
	return source.Need(kind == "check" || kind == "control" || kind == "capture" || kind == "given")
}

// sink is where mistakes go.
func (f *frame) sink() *source.Diagnostics { return &f.ds }

// time reads a duration above zero.
func (f *frame) time(r *source.Reader, name string, need source.Need) time.Duration {
	written, before := r.Has(name), len(*f.sink())
	q := r.Quantity(name, need, quantity.Time)
	if !written || len(*f.sink()) > before {
		return 0
	}
	d := time.Duration(math.Round(q.SI * 1e9))
	if q.SI <= 0 || q.SI > longest.Seconds() {
		f.ds.Add(r.Range(name), badTime, "%s is no time to wait; it must be above 0 s and at most %s.", q, quantity.Seconds(longest.Seconds()))
		return 0
	}
	return d
}

// band reads a relative half-width, 0 when it is not written.
func (f *frame) band(r *source.Reader, name string) float64 {
	if !r.Has(name) {
		return 0
	}
	q := r.Quantity(name, source.Optional, quantity.Number)
	if q.SI <= 0 || q.SI >= 1 {
		f.ds.Add(r.Range(name), badBand, "%s is no band; it must be above 0 %% and below 100 %%.", q.Percent())
	}
	return q.SI
}

// measured reads the attribute "channel".
func (f *frame) measured(r *source.Reader) (string, quantity.Dim) {
	e, ok := r.Expression("channel", source.Required, "a channel such as channel.vbus")
	if !ok {
		return "", quantity.Number
	}
	return f.channelOf(e)
}

func (f *frame) channelOf(e hclsyntax.Expression) (string, quantity.Dim) {
	p, ok := pathOf(f.file, e)
	if !ok || p.root != "channel" {
		f.ds.Add(e.Range(), badWait, "%s is no channel; a step measures one, such as channel.vbus.", capital(describe(e)))
		return "", quantity.Number
	}
	name, dim, _ := f.channelName(p)
	return name, dim
}

// expected reads "expect", the largest value that is expected.
func (f *frame) expected(r *source.Reader, dim quantity.Dim) quantity.Quantity {
	e, ok := r.Expression("expect", source.Optional, "a quantity")
	if !ok {
		return quantity.Quantity{}
	}
	return f.constant(e, dim)
}

// constant compiles a level that is known when the file is loaded.
func (f *frame) constant(e hclsyntax.Expression, dim quantity.Dim) quantity.Quantity {
	f.channels, f.readings = false, false
	x := f.compiler().value(e)
	if x == nil {
		return quantity.Quantity{}
	}
	if x.Dim() != dim {
		f.ds.Add(e.Range(), dimensionsMix, "%s is %s; here %s is needed.", x, aDim(x.Dim()), aDim(dim))
		return quantity.Quantity{}
	}
	m, err := evaluate(x, nil)
	if err != nil && f.absent == "" {
		f.ds.Add(e.Range(), notQuantity, "%s has no value: %s.", x, err)
	}
	return m.Quantity
}

// thresholds reads the levels that are drawn into a waveform.
func (f *frame) thresholds(r *source.Reader, dim quantity.Dim) []Threshold {
	var out []Threshold
	for _, b := range r.Blocks("threshold", 1) {
		if e, ok := b.Expression("level", source.Required, "a quantity such as \"4.75 V\""); ok {
			out = append(out, Threshold{b.Label(0).Value, f.constant(e, dim)})
		}
		b.Close()
	}
	return out
}

// given reads what no channel can: "as" shows the unit, "u" is what the value
// may be off.
func (f *frame) given(r *source.Reader, name, title string) Step {
	g := Given{Name: name, Title: title}
	if e, ok := r.Expression("as", source.Required, "an example with its unit, such as \"1 V\""); ok {
		f.channels, f.readings = false, false
		if x := f.compiler().value(e); x != nil {
			g.Dim = x.Dim()
		}
	}
	if e, ok := r.Expression("u", source.Required, "a quantity, what the value may be off"); ok {
		g.U = f.constant(e, g.Dim)
	}
	return g
}

func (f *frame) wait(r *source.Reader, name, title string) Step {
	w := Wait{Name: name, Title: title, Keep: r.Bool("keep", source.Optional)}
	w.Hold = f.time(r, "hold", source.Optional)
	w.Within = f.time(r, "within", source.Required)
	steady := r.Has("steady")
	until, comparing := r.Expression("until", source.Optional, "a comparison")
	var dim quantity.Dim
	switch {
	case steady == comparing:
		f.ds.Add(r.Header(), badWait, "The wait %q needs either until = channel.NAME >= LEVEL, or a channel and steady = BAND.", r.Label(0).Value)
		return nil
	case steady:
		w.Relation, w.Band = bench.Steady, f.band(r, "steady")
		w.Channel, dim = f.measured(r)
	default:
		var c bench.Comparison
		w.Channel, dim, c = f.crossing(until)
		w.Relation, w.Level = c.Relation, c.Level
	}
	f.origin(r, &w)
	w.Thresholds = f.thresholds(r, dim)
	if len(w.Thresholds) > 0 && !w.Keep {
		f.ds.Add(r.Header(), badThreshold, "A threshold is drawn into a waveform; this wait keeps none. Add keep = true.")
	}
	return w
}

// crossing reads a comparison of one channel with a level.
func (f *frame) crossing(e hclsyntax.Expression) (string, quantity.Dim, bench.Comparison) {
	b, ok := e.(*hclsyntax.BinaryOpExpr)
	if !ok {
		f.ds.Add(e.Range(), badWait, "%s is nothing to wait for; compare a channel with a level, as in channel.vbus >= \"4.75 V\".", capital(describe(e)))
		return "", 0, bench.Comparison{}
	}
	var c bench.Comparison
	switch b.Op {
	case hclsyntax.OpGreaterThan, hclsyntax.OpGreaterThanOrEqual:
		c.Relation = bench.AtLeast
	case hclsyntax.OpLessThan, hclsyntax.OpLessThanOrEqual:
		c.Relation = bench.AtMost
	default:
		f.ds.Add(e.Range(), badWait, "A wait compares one channel with one level, by <, <=, > or >=.")
		return "", 0, c
	}
	name, dim := f.channelOf(b.LHS)
	if name == "" {
		return "", dim, c
	}
	c.Level = f.constant(b.RHS, dim)
	return name, dim, c
}

// origin reads what the time counts from.
func (f *frame) origin(r *source.Reader, w *Wait) {
	from, first := r.Expression("from", source.Optional, "a comparison")
	last, rise := r.Expression("from_last", source.Optional, "a comparison")
	switch {
	case first && rise:
		f.ds.Add(r.Range("from_last"), badWait, "A time counts from one instant; leave out from or from_last.")
		return
	case rise:
		from, w.Origin = last, bench.FromLastMark
	case first:
		w.Origin = bench.FromMark
	default:
		return
	}
	channel, _, mark := f.crossing(from)
	w.Mark = mark
	if channel != "" && w.Channel != "" && channel != w.Channel {
		f.ds.Add(from.Range(), badWait, "The time counts from a mark on the channel that is waited for, %q; found %q.", w.Channel, channel)
	}
}

func (f *frame) read(r *source.Reader, name, title string) Step {
	s := Read{Name: name, Title: title}
	var dim quantity.Dim
	s.Channel, dim = f.measured(r)
	s.Expect = f.expected(r, dim)
	if r.Has("periods") {
		s.Periods = r.Integer("periods", source.Optional, 1, 100)
	}
	s.Band = f.band(r, "steady")
	s.Within = f.time(r, "within", source.Need(s.Band > 0))
	if s.Within > 0 && s.Band == 0 {
		f.ds.Add(r.Range("within"), badWait, "A read takes its value at once; with within it also needs steady, the band that the channel must stay in.")
	}
	return s
}

func (f *frame) sample(r *source.Reader, name, title string) Step {
	s := Sample{Name: name, Title: title}
	var dim quantity.Dim
	s.Channel, dim = f.measured(r)
	s.Expect = f.expected(r, dim)
	s.Over = f.time(r, "over", source.Required)
	s.Every = f.time(r, "every", source.Optional)
	s.Thresholds = f.thresholds(r, dim)
	if s.Every > s.Over && s.Over > 0 {
		f.ds.Add(r.Range("every"), badTime, "Nothing is sampled: every is longer than over.")
	}
	return s
}

func (f *frame) capture(r *source.Reader, name, title string) Step {
	s := Capture{Name: name, Title: title}
	var dim quantity.Dim
	s.Channel, dim = f.measured(r)
	s.Expect = f.expected(r, dim)
	s.Over = f.time(r, "over", source.Required)
	s.Interval = f.time(r, "interval", source.Optional)
	s.Thresholds = f.thresholds(r, dim)
	if s.Interval > s.Over && s.Over > 0 {
		f.ds.Add(r.Range("interval"), badTime, "Nothing is sampled: interval is longer than over.")
	}
	return s
}

// reseat reads the one question that may end in plugging again.
func (f *frame) reseat(r *source.Reader) Step {
	s := Reseat{Why: r.String("why", source.Required).Value}
	e, ok := r.Expression("when", source.Required, "a comparison")
	if !ok {
		return nil
	}
	f.channels, f.readings = false, true
	if s.When = f.compiler().truth(e); s.When == nil {
		return nil
	}
	return s
}
