package record

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
)

// The schema versions of what concerns incoming lots.
const (
	LotDrawSchema         = "sinkproof-lot-draw/1"
	LotJudgementSchema    = "sinkproof-lot-judgement/1"
	SupplierResumedSchema = "sinkproof-supplier-resumption/1"
)

// The kinds of entries about incoming lots.
const (
	LotOpened       Kind = "lot opened"
	LotJudged       Kind = "lot judged"
	SupplierResumed Kind = "supplier resumed"
)

// LotName says which lot is meant: suppliers number as they like.
type LotName struct {
	Lot      string `json:"lot"`
	Supplier string `json:"supplier"`
	Product  string `json:"product"`
}

// LotDraw opens an incoming lot: the plan that it is inspected by, and which of
// its units are tested, said before any of them is.
type LotDraw struct {
	// ID is a UUIDv7; the judgement names it.
	ID    string `json:"id"`
	Bench Bench  `json:"bench"`
	// Made is when it was opened, RFC 3339 in UTC, By who did.
	Made string `json:"made"`
	By   string `json:"by"`
	LotName
	Plan LotPlan `json:"plan"`
	// Seed is 32 random bytes in lower-case hexadecimal; see Key.
	Seed string `json:"seed"`
	// Serials are all units of the lot, as delivered.
	Serials []string `json:"serials"`
	// Drawn are the units to test, in the order in which to test them.
	Drawn []string `json:"drawn"`
}

// LotPlan is how the lot is inspected (ISO 2859-1, single sampling).
type LotPlan struct {
	Level string `json:"level"`
	// AQL is the acceptance quality limit in percent.
	AQL float64 `json:"aql"`
	// Severity follows from the lots of the supplier before: normal, tightened
	// or reduced.
	Severity   string `json:"severity"`
	CodeLetter string `json:"code_letter"`
	PlanLetter string `json:"plan_letter"`
	// Accept is up to how many bad units accept the lot.
	Accept int `json:"accept"`
	// TighterAccept is the same one limit tighter, where the switching score asks
	// for it.
	TighterAccept *int `json:"tighter_accept,omitempty"`
}

// SupplierResumption says that a discontinued supplier has acted: its lots are
// inspected again, tightened.
type SupplierResumption struct {
	Supplier string `json:"supplier"`
	Product  string `json:"product"`
	Bench    Bench  `json:"bench"`
	Made     string `json:"made"`
	By       string `json:"by"`
	Reason   string `json:"reason"`
}

type lotDrawDocument struct {
	Schema string `json:"schema"`
	LotDraw
}

type lotJudgementDocument struct {
	Schema string `json:"schema"`
	LotJudgement
}

type supplierResumptionDocument struct {
	Schema string `json:"schema"`
	SupplierResumption
}

// Key is what the sample is drawn by. It is made of the seed and of the entry
// before the draw, whose hash is its argument: a draw fits one place of the
// chain, and what it draws cannot be known before everything else in front of
// it is. A seed that is not hexadecimal gives nil.
func (d LotDraw) Key(previous string) []byte {
	seed, err := hex.DecodeString(d.Seed)
	if err != nil {
		return nil
	}
	sum := sha256.Sum256(append(seed, previous...))
	return sum[:]
}

// String names the lot for a person.
func (n LotName) String() string {
	return fmt.Sprintf("lot %q of %q from %q", n.Lot, n.Product, n.Supplier)
}

// Kind returns LotOpened.
func (d LotDraw) Kind() Kind { return LotOpened }

// Kind returns LotJudged.
func (j LotJudgement) Kind() Kind { return LotJudged }

// Kind returns SupplierResumed.
func (r SupplierResumption) Kind() Kind { return SupplierResumed }

func (d LotDraw) encode() ([]byte, error) { return encodeValid(d, lotDrawDocument{LotDrawSchema, d}) }

func (j LotJudgement) encode() ([]byte, error) {
	return encodeValid(j, lotJudgementDocument{LotJudgementSchema, j})
}

func (r SupplierResumption) encode() ([]byte, error) {
	return encodeValid(r, supplierResumptionDocument{SupplierResumedSchema, r})
}

// DecodeLotDraw reads the canonical form of a draw. It wraps ErrForm,
// ErrSchema, ErrInvalid, ErrNumber or ErrText, as those below do.
func DecodeLotDraw(data []byte) (LotDraw, error) {
	var d lotDrawDocument
	if err := decode(data, &d, LotDrawSchema); err != nil {
		return LotDraw{}, fmt.Errorf("draw of a lot: decode: %w", err)
	}
	return d.LotDraw, sameForm(data, d.LotDraw.encode)
}

// DecodeLotJudgement reads the canonical form of the judgement on a lot.
func DecodeLotJudgement(data []byte) (LotJudgement, error) {
	var d lotJudgementDocument
	if err := decode(data, &d, LotJudgementSchema); err != nil {
		return LotJudgement{}, fmt.Errorf("judgement on a lot: decode: %w", err)
	}
	return d.LotJudgement, sameForm(data, d.LotJudgement.encode)
}

// DecodeSupplierResumption reads the canonical form of a resumption.
func DecodeSupplierResumption(data []byte) (SupplierResumption, error) {
	var d supplierResumptionDocument
	if err := decode(data, &d, SupplierResumedSchema); err != nil {
		return SupplierResumption{}, fmt.Errorf("resumption of a supplier: decode: %w", err)
	}
	return d.SupplierResumption, sameForm(data, d.SupplierResumption.encode)
}

func (n LotName) rules() []rule {
	return []rule{{n.Lot != "", "lot is missing"}, {n.Supplier != "", "supplier is missing"}, {n.Product != "", "product is missing"}}
}

// lotForm is a code letter of the tables, severities those that have a plan.
const lotForm = `^[A-S]$`

// Validate checks the rules of the published schema, and that every drawn unit
// is one of the lot. It wraps ErrInvalid.
func (d LotDraw) Validate() error {
	rules := append(issued(d.Bench, d.Made, d.By), d.rules()...)
	rules = append(rules,
		rule{matches(idForm, d.ID), "id must be a UUIDv7 in lower case"},
		rule{matches(hashForm, d.Seed), "seed must be 64 lower-case hexadecimal digits"},
		rule{len(d.Serials) >= 2, fmt.Sprintf("a lot of %d units, it has 2 at least", len(d.Serials))},
		rule{len(d.Drawn) >= 1, "no unit is drawn"},
		rule{d.Plan.Level != "", "inspection level is missing"},
		rule{d.Plan.AQL > 0, fmt.Sprintf("acceptance quality limit is %v %%, must be above 0", d.Plan.AQL)},
		rule{slices.Contains([]string{"normal", "tightened", "reduced"}, d.Plan.Severity),
			fmt.Sprintf("severity is %q, must be normal, tightened or reduced", d.Plan.Severity)},
		rule{matches(lotForm, d.Plan.CodeLetter) && matches(lotForm, d.Plan.PlanLetter), "a letter is none of the tables"},
		rule{d.Plan.Accept >= 0 && (d.Plan.TighterAccept == nil || *d.Plan.TighterAccept >= 0), "an acceptance number is negative"})
	if err := demand(d.String(), rules...); err != nil {
		return err
	}
	return d.validateUnits()
}

// validateUnits checks the units, of which a lot may have a hundred thousand:
// nothing is worded before it is wrong.
func (d LotDraw) validateUnits() error {
	inLot := make(map[string]bool, len(d.Serials))
	for _, s := range d.Serials {
		if err := ValidSerial(s); err != nil {
			return err
		}
		if inLot[s] {
			return demand(d.String(), rule{false, fmt.Sprintf("serial %q stands in the lot twice", s)})
		}
		inLot[s] = true
	}
	for _, s := range d.Drawn {
		if !inLot[s] {
			return demand(d.String(), rule{false, fmt.Sprintf("serial %q is drawn twice, or not of the lot", s)})
		}
		delete(inLot, s)
	}
	return nil
}

// Validate checks the rules of the published schema. It wraps ErrInvalid.
func (r SupplierResumption) Validate() error {
	return demand(fmt.Sprintf("resumption of supplier %q", r.Supplier), append(issued(r.Bench, r.Made, r.By),
		rule{r.Supplier != "", "supplier is missing"}, rule{r.Product != "", "product is missing"}, rule{r.Reason != "", "the reason is missing"})...)
}
