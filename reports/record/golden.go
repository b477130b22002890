package record

import (
	"fmt"
	"slices"
	"time"
)

// The schema versions of what concerns golden units.
const (
	GoldenSchema           = "sinkproof-golden/1"
	GoldenRetirementSchema = "sinkproof-golden-retirement/1"
	GoldenRunSchema        = "sinkproof-golden-run/1"
)

// The kinds of entries about golden units.
const (
	GoldenRegistered  Kind = "golden unit registered"
	GoldenRetired     Kind = "golden unit retired"
	GoldenOpened      Kind = "golden run opened"
	GoldenClosed      Kind = "golden run closed"
	GoldenInterrupted Kind = "golden run interrupted"
)

// Golden is a golden unit: a unit with a known answer, good or with a known
// fault, that proves a bench for a product.
type Golden struct {
	// ID is a UUIDv7; golden runs name it.
	ID    string `json:"id"`
	Bench Bench  `json:"bench"`
	// Made is when it was registered, RFC 3339 in UTC, By who did.
	Made    string `json:"made"`
	By      string `json:"by"`
	Serial  string `json:"serial"`
	Product string `json:"product"`
	// Title says in words what unit it is.
	Title string `json:"title"`
	// Fault is what is known to be wrong; absent on a good unit.
	Fault    string   `json:"fault,omitempty"`
	Expected Expected `json:"expected"`
	// ValidS is for how many seconds a good answer stands.
	ValidS int64 `json:"valid_s"`
}

// Expected is what a golden unit answers on a bench that is in order.
type Expected struct {
	// Verdict is Pass or Fail.
	Verdict Verdict `json:"verdict"`
	// Fails names the checks that must fail, MayFail those that may besides.
	// No other may.
	Fails   []string `json:"fails,omitempty"`
	MayFail []string `json:"may_fail,omitempty"`
	// Values are the ranges that the values of checks must lie in.
	Values []ExpectedValue `json:"values,omitempty"`
}

// ExpectedValue is the range of the value of a check, in an SI unit.
type ExpectedValue struct {
	Check string  `json:"check"`
	Unit  string  `json:"unit"`
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}

// GoldenRetirement takes a golden unit out of use.
type GoldenRetirement struct {
	// Golden is the id of the registration.
	Golden string `json:"golden"`
	Serial string `json:"serial"`
	Bench  Bench  `json:"bench"`
	Made   string `json:"made"`
	By     string `json:"by"`
	Reason string `json:"reason"`
}

// GoldenOpening opens a run of a golden unit. Its attempts are counted apart.
type GoldenOpening struct{ Opening }

// GoldenInterruption closes a run of a golden unit that never came to a
// verdict.
type GoldenInterruption struct{ Interruption }

// GoldenRun is the record of a run of a golden unit, with what it says about
// the bench.
type GoldenRun struct {
	// Golden is the id of the registration.
	Golden string       `json:"golden"`
	Answer GoldenAnswer `json:"answer"`
	// Deviations says in words what was not as expected, or why there is no
	// answer.
	Deviations []string `json:"deviations,omitempty"`
	Run        Run      `json:"run"`
}

type goldenDocument struct {
	Schema string `json:"schema"`
	Golden
}

type goldenRetirementDocument struct {
	Schema string `json:"schema"`
	GoldenRetirement
}

type goldenRunDocument struct {
	Schema string `json:"schema"`
	GoldenRun
}

// Kind returns GoldenRegistered.
func (g Golden) Kind() Kind { return GoldenRegistered }

// Kind returns GoldenRetired.
func (g GoldenRetirement) Kind() Kind { return GoldenRetired }

// Kind returns GoldenOpened.
func (o GoldenOpening) Kind() Kind { return GoldenOpened }

// Kind returns GoldenClosed.
func (g GoldenRun) Kind() Kind { return GoldenClosed }

// Kind returns GoldenInterrupted.
func (i GoldenInterruption) Kind() Kind { return GoldenInterrupted }

func (g Golden) encode() ([]byte, error) {
	return encodeValid(g, goldenDocument{GoldenSchema, g})
}

func (g GoldenRetirement) encode() ([]byte, error) {
	return encodeValid(g, goldenRetirementDocument{GoldenRetirementSchema, g})
}

func (o GoldenOpening) encode() ([]byte, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	return EncodeOpening(o.Opening)
}

func (g GoldenRun) encode() ([]byte, error) {
	return encodeValid(g, goldenRunDocument{GoldenRunSchema, g})
}

func (i GoldenInterruption) encode() ([]byte, error) { return EncodeInterruption(i.Interruption) }

// encodeValid validates a thing and returns the canonical form of its
// document.
func encodeValid(thing interface{ Validate() error }, doc any) ([]byte, error) {
	if err := thing.Validate(); err != nil {
		return nil, err
	}
	return canonical(doc)
}

// DecodeGolden reads the canonical form of a golden unit. It wraps ErrForm,
// ErrSchema, ErrInvalid, ErrNumber or ErrText, as those below do.
func DecodeGolden(data []byte) (Golden, error) {
	var d goldenDocument
	if err := decode(data, &d, GoldenSchema); err != nil {
		return Golden{}, fmt.Errorf("golden unit: decode: %w", err)
	}
	return d.Golden, sameForm(data, d.Golden.encode)
}

// decodeGoldenOpening reads the canonical form of the opening of a golden run.
func decodeGoldenOpening(data []byte) (GoldenOpening, error) {
	o, err := DecodeOpening(data)
	if err != nil {
		return GoldenOpening{}, err
	}
	return GoldenOpening{o}, GoldenOpening{o}.Validate()
}

// DecodeGoldenRetirement reads the canonical form of a retirement.
func DecodeGoldenRetirement(data []byte) (GoldenRetirement, error) {
	var d goldenRetirementDocument
	if err := decode(data, &d, GoldenRetirementSchema); err != nil {
		return GoldenRetirement{}, fmt.Errorf("retirement of a golden unit: decode: %w", err)
	}
	return d.GoldenRetirement, sameForm(data, d.GoldenRetirement.encode)
}

// DecodeGoldenRun reads the canonical form of a run of a golden unit.
func DecodeGoldenRun(data []byte) (GoldenRun, error) {
	var d goldenRunDocument
	if err := decode(data, &d, GoldenRunSchema); err != nil {
		return GoldenRun{}, fmt.Errorf("golden run: decode: %w", err)
	}
	return d.GoldenRun, sameForm(data, d.GoldenRun.encode)
}

// issued are the rules of what a named person adds to the chain of a bench.
func issued(b Bench, made, by string) []rule {
	return append(appended(b, made), rule{by != "", "it is not said who did it"})
}

// appended are the rules of what is added to the chain of a bench.
func appended(b Bench, made string) []rule {
	_, err := time.Parse(time.RFC3339Nano, made)
	return []rule{
		{b.Name != "", "bench name is missing"},
		{b.Kind == Twin || b.Kind == Hardware, fmt.Sprintf("bench kind is %q, must be twin or hardware", b.Kind)},
		{b.Program != "", "program version is missing"},
		{b.Unproven == "", "the bench cannot be unproven here"},
		{matches(startedForm, made) && err == nil, fmt.Sprintf("made is %q, must be RFC 3339 in UTC", made)},
	}
}

// Validate checks the rules of the published schema, and that no check is
// named twice. It wraps ErrInvalid.
func (g Golden) Validate() error {
	if err := ValidSerial(g.Serial); err != nil {
		return err
	}
	rules := append(issued(g.Bench, g.Made, g.By),
		rule{matches(idForm, g.ID), "id must be a UUIDv7 in lower case"},
		rule{g.Product != "", "product is missing"},
		rule{g.Title != "", "title is missing"},
		rule{g.ValidS >= 1, fmt.Sprintf("an answer is valid for %d s, must be 1 or more", g.ValidS)})
	return demand(fmt.Sprintf("golden unit %q", g.Serial), append(rules, g.Expected.rules()...)...)
}

func (e Expected) rules() []rule {
	rules := []rule{
		{e.Verdict == Pass || e.Verdict == Fail, fmt.Sprintf("expected verdict is %q, must be pass or fail", e.Verdict)},
		{e.Verdict != Pass || len(e.Fails)+len(e.MayFail) == 0, "a check is expected to fail on a unit that passes"},
		{e.Verdict != Fail || len(e.Fails) > 0, "no check is expected to fail on a unit that fails"},
	}
	seen := map[string]bool{}
	for _, name := range slices.Concat(e.Fails, e.MayFail) {
		rules = append(rules, rule{name != "", "a check has no name"}, rule{!seen[name], fmt.Sprintf("check %q is named twice", name)})
		seen[name] = true
	}
	valued := map[string]bool{}
	for _, v := range e.Values {
		rules = append(rules,
			rule{v.Check != "", "a value has no check"},
			rule{!valued[v.Check], fmt.Sprintf("the value of check %q is given twice", v.Check)},
			rule{knownUnit(v.Unit), fmt.Sprintf("unit %q is none that a record uses", v.Unit)},
			rule{v.Lower < v.Upper, fmt.Sprintf("the value of check %q has no range: %g to %g", v.Check, v.Lower, v.Upper)})
		valued[v.Check] = true
	}
	return rules
}

// Validate checks the rules of the published schema. It wraps ErrInvalid.
func (g GoldenRetirement) Validate() error {
	if err := ValidSerial(g.Serial); err != nil {
		return err
	}
	return demand(fmt.Sprintf("retirement of golden unit %q", g.Serial), append(issued(g.Bench, g.Made, g.By),
		rule{matches(idForm, g.Golden), "id of the registration must be a UUIDv7 in lower case"},
		rule{g.Reason != "", "the reason is missing"})...)
}

// Validate checks the rules of an opening; a golden run proves a bench and
// cannot be on an unproven one. It wraps ErrInvalid.
func (o GoldenOpening) Validate() error {
	if err := o.Opening.Validate(); err != nil {
		return err
	}
	return demand(fmt.Sprintf("golden run %q of serial %q", o.ID, o.Serial),
		rule{o.Bench.Unproven == "", "a golden run has no use for a bench that is unproven"})
}

// Validate checks the rules of the published schema. It wraps ErrInvalid.
func (g GoldenRun) Validate() error {
	if err := g.Run.Validate(); err != nil {
		return err
	}
	if err := (GoldenOpening{g.Run.Opening}).Validate(); err != nil {
		return err
	}
	rules := []rule{
		{matches(idForm, g.Golden), "id of the registration must be a UUIDv7 in lower case"},
		{slices.Contains([]GoldenAnswer{AsExpected, Deviates, NoAnswer}, g.Answer),
			fmt.Sprintf("answer is %q, must be as expected, deviates or none", g.Answer)},
		{(g.Answer == AsExpected) == (len(g.Deviations) == 0), "deviations go with an answer that is not as expected, and with no other"},
		{!slices.Contains(g.Deviations, ""), "a deviation says nothing"},
	}
	return demand(fmt.Sprintf("golden run %q of serial %q", g.Run.ID, g.Run.Serial), rules...)
}
