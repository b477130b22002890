package scenarios

import (
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"

	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
	"sinkproof/reports/record"
)

// Load proves a scenario against a rig and a product and expands it. All
// mistakes come back at once; the scenario is nil when one of them is an
// error. A rig or a product with mistakes of its own must not be passed.
func Load(file *source.File, rig *wiring.Rig, prod *product.Product) (*Scenario, source.Diagnostics) {
	l := &loader{
		file: file, rig: rig, prod: prod,
		declared: map[string]*declaration{},
		excluded: map[string]string{},
	}
	sc := l.scenario()
	found := l.ds.Sorted()
	if found.HasErrors() {
		return nil, found
	}
	return sc, found
}

// The fixed summaries of what can be wrong around stages.
const (
	noScenario     = "no scenario"
	badName        = "not a name"
	nameTwice      = "name used twice"
	badDecision    = "decision and guard do not fit"
	noStage        = "no stage"
	badKey         = "not a literal list"
	misplacedBlock = "block in the wrong place"
)

// loader reads one file in two passes: the first declares every name, so that
// the second can tell a name that comes too late from one that does not exist.
type loader struct {
	file *source.File
	rig  *wiring.Rig
	prod *product.Product
	ds   source.Diagnostics

	stages     []*stageSource
	interlocks []*source.Reader
	declared   map[string]*declaration
	// order lists the declared names as they stand in the file.
	order []string
	// excluded tells why a step is not observable on this product, by its
	// full name.
	excluded map[string]string
	// probed is the index of the stage with the probe, -1 before one is known.
	probed int
}

// stageSource is a stage as it stands in the file.
type stageSource struct {
	reader *source.Reader
	body   *hclsyntax.Body
	name   string
	rounds []round
	steps  []stepSource
	// unseated: it is taken before the unit is seated.
	unseated bool
}

// stepSource is one block of a stage, in the order of the file.
type stepSource struct {
	kind   string
	name   string
	block  *hclsyntax.Block
	inside []stepSource // of a control's "lifted" block
}

// round is one turn of for_each; a stage without it has one round without a
// key.
type round struct {
	key    string
	fields map[string]source.Text
	// why says why the product makes the round impossible.
	why string
}

func (l *loader) scenario() *Scenario {
	root := source.NewReader(l.file, &l.ds)
	all := root.Blocks("scenario", 1)
	root.Close()
	if len(all) != 1 {
		if !l.ds.HasErrors() {
			l.ds.Add(root.Header(), noScenario, "A scenario file holds one scenario block; this one has %d.", len(all))
		}
		return nil
	}
	r := all[0]
	sc := &Scenario{
		Name:    l.name(r.Label(0)),
		Title:   r.String("title", source.Required).Value,
		Version: r.String("version", source.Required).Value,
		Product: l.prod.Name,
	}
	sc.Decision = l.decision(r)
	r.Has("order")
	sc.AfterFail = AfterFail(r.OneOf("after_fail", source.Optional, string(AskHazards)).Value)
	sc.Windows = Windows(r.OneOf("windows", source.Optional, string(Shared)).Value)
	for _, s := range r.Blocks("stage", 1) {
		l.stages = append(l.stages, &stageSource{reader: s, name: l.name(s.Label(0))})
	}
	l.interlocks = r.Blocks("interlock", 1)
	r.Close()
	if len(l.stages) == 0 {
		l.ds.Add(r.Header(), noStage, "The scenario asks nothing; it needs a stage.")
	}
	l.unseated()
	l.attachBodies()
	l.declare()
	l.build(sc)
	l.reorder(sc, r)
	return sc
}

// attachBodies finds the syntax of each stage, because steps of different
// kinds must keep their order and a Reader hands out one kind at a time.
func (l *loader) attachBodies() {
	bodies := map[hcl.Pos]*hclsyntax.Body{}
	for _, b := range l.file.Body.Blocks {
		for _, s := range b.Body.Blocks {
			bodies[s.DefRange().Start] = s.Body
		}
	}
	for _, s := range l.stages {
		s.body = bodies[s.reader.Header().Start]
	}
}

// decision reads the decision rule. The guard band is r·U (JCGM 106:2012,
// 8.3.2); r = 1 is the usual choice of ISO/IEC guides, no limit to it is
// known, and more than 3 would reject nearly everything.
func (l *loader) decision(r *source.Reader) record.Decision {
	rule := r.OneOf("decision", source.Required, string(record.Simple), string(record.Guarded))
	d := record.Decision{Rule: record.Rule(rule.Value)}
	if r.Has("guard") {
		d.Guard = r.Number("guard", source.Optional)
	}
	switch {
	case d.Rule == record.Simple && r.Has("guard"):
		l.ds.Add(r.Range("guard"), badDecision, "The simple rule takes no guard; leave it out, or decide \"guarded\".")
	case d.Rule == record.Guarded && (d.Guard <= 0 || d.Guard > 3):
		l.ds.Add(r.Range("guard"), badDecision, "The guarded rule needs a guard above 0 and at most 3, such as guard = 1.")
	}
	return d
}

// name demands a name that can stand in a reference.
func (l *loader) name(t source.Text) string {
	if !goodName(t.Value) {
		l.ds.Add(t.Range, badName, "%q cannot be a name; names are lower-case letters, digits and dashes, a letter first, such as \"rd-1\".", t.Value)
	}
	return t.Value
}

func goodName(s string) bool {
	for i, r := range s {
		letter := r >= 'a' && r <= 'z'
		if !letter && (i == 0 || r != '-' && (r < '0' || r > '9')) {
			return false
		}
	}
	return s != "" && !strings.HasSuffix(s, "-")
}

// rounds reads for_each: a list of texts, or of maps of texts with a "key".
func (l *loader) rounds(r *source.Reader) []round {
	if !r.Has("for_each") {
		return []round{{}}
	}
	e, _ := r.Expression("for_each", source.Optional, "")
	list, ok := e.(*hclsyntax.TupleConsExpr)
	if !ok || len(list.Exprs) == 0 {
		l.ds.Add(e.Range(), badKey, "for_each takes a list that is written out, such as [\"normal\", \"flipped\"].")
		return nil
	}
	var out []round
	for _, item := range list.Exprs {
		one, ok := l.round(item)
		if !ok {
			continue
		}
		if !slices.ContainsFunc(out, one.twin) {
			out = append(out, one)
			continue
		}
		l.ds.Add(item.Range(), nameTwice, "The key %q stands in the list already; every round needs its own, or an \"only\" that keeps them apart.", one.key)
	}
	return l.chosen(out)
}

// twin tells whether two rounds would give their readings the same names.
func (r round) twin(o round) bool { return r.key == o.key && r.why == "" && o.why == "" }

// chosen leaves out the rounds that are a form of another one for products of
// another kind. What has no form left stays, to be listed as not observable.
func (l *loader) chosen(all []round) []round {
	possible := func(key string) bool {
		return slices.ContainsFunc(all, func(o round) bool { return o.key == key && o.why == "" })
	}
	var out []round
	for _, r := range all {
		listed := slices.ContainsFunc(out, func(o round) bool { return o.key == r.key })
		if r.why == "" || !listed && !possible(r.key) {
			out = append(out, r)
		}
	}
	return out
}

func (l *loader) round(e hclsyntax.Expression) (round, bool) {
	if t, ok := l.file.Literal(e); ok {
		return round{key: t.Value, fields: map[string]source.Text{"value": t}}, l.goodKey(t)
	}
	m, ok := e.(*hclsyntax.ObjectConsExpr)
	if !ok {
		l.ds.Add(e.Range(), badKey, "%s cannot be a round of for_each; it takes a text, or a map of texts with a \"key\".", capital(describe(e)))
		return round{}, false
	}
	fields := map[string]source.Text{}
	for _, item := range m.Items {
		name := hcl.ExprAsKeyword(item.KeyExpr)
		value, ok := l.file.Literal(item.ValueExpr)
		if name == "" || !ok {
			l.ds.Add(item.ValueExpr.Range(), badKey, "A round of for_each gives texts to names, such as { key = \"a\", limit = \"1 V\" }.")
			return round{}, false
		}
		fields[name] = value
	}
	key, keyed := fields["key"]
	only, sorted := fields["only"]
	if !keyed && !sorted {
		l.ds.Add(e.Range(), badKey, "A round of for_each that is a map needs a \"key\", by which its readings are called, or an \"only\".")
		return round{}, false
	}
	why := ""
	if sorted {
		if why, ok = l.only(only); !ok {
			return round{}, false
		}
	}
	return round{key.Value, fields, why}, !keyed || l.goodKey(key)
}

// only reads the fact that a round is meant for; the text says why the product
// is of another kind, and is empty when it is not.
func (l *loader) only(t source.Text) (string, bool) {
	f, ok := factOf(l.prod, t.Value)
	switch {
	case !ok:
		l.ds.Add(t.Range, unknownName, "Nothing is known about %q of a product.%s", t.Value, source.Suggest(t.Value, product.Features()))
		return "", false
	case f.holds:
		return "", true
	}
	return f.because(), true
}

// goodKey refuses keys that would make full names ambiguous.
func (l *loader) goodKey(t source.Text) bool {
	if t.Value == "" || strings.ContainsAny(t.Value, "[]\"\n") || strings.TrimSpace(t.Value) != t.Value {
		l.ds.Add(t.Range, badKey, "%q cannot be a key; a key is a short text without brackets, quotes or blanks at its ends.", t.Value)
		return false
	}
	return true
}

// keyed gives a name its key: rd1[10 kΩ].
func keyed(name, key string) string {
	if key == "" {
		return name
	}
	return name + "[" + key + "]"
}
