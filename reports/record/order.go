package record

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
)

// TestOrderSchema is the version of a test order.
const TestOrderSchema = "sinkproof-test-order/1"

// OrderDrawn is the kind of entry that holds a test order.
const OrderDrawn Kind = "order drawn"

// TestOrder is the order in which the boards of two suppliers are tested to be
// compared, said before any of them is.
type TestOrder struct {
	// ID is a UUIDv7.
	ID    string `json:"id"`
	Bench Bench  `json:"bench"`
	// Made is when it was drawn, RFC 3339 in UTC, By who had it drawn.
	Made      string `json:"made"`
	By        string `json:"by"`
	Product   string `json:"product"`
	Candidate string `json:"candidate"`
	Incumbent string `json:"incumbent"`
	// Nests and Days are how many there are; Seatings is how often each gauge board
	// is seated in each nest on each day.
	Nests    int `json:"nests"`
	Days     int `json:"days"`
	Seatings int `json:"seatings"`
	// Seed is 32 random bytes in lower-case hexadecimal; see Key.
	Seed string `json:"seed"`
	// Lots are the boards, as delivered, Gauge those of the gauge study.
	Lots  []OrderedLot `json:"lots"`
	Gauge []string     `json:"gauge"`
	// Turns are the runs in their order.
	Turns []OrderTurn `json:"turns"`
}

// OrderedLot is what a supplier sent in one lot.
type OrderedLot struct {
	Supplier string   `json:"supplier"`
	Lot      string   `json:"lot"`
	Serials  []string `json:"serials"`
}

// OrderTurn is one run of an order; nest and day count from 1.
type OrderTurn struct {
	Serial string `json:"serial"`
	Nest   int    `json:"nest"`
	Day    int    `json:"day"`
}

type testOrderDocument struct {
	Schema string `json:"schema"`
	TestOrder
}

// Key is what the order is drawn by, made as that of a lot's sample: an order fits
// one place of the chain. A seed that is not hexadecimal gives nil.
func (o TestOrder) Key(previous string) []byte {
	seed, err := hex.DecodeString(o.Seed)
	if err != nil {
		return nil
	}
	sum := sha256.Sum256(append(seed, previous...))
	return sum[:]
}

// String names the order for a person.
func (o TestOrder) String() string {
	return fmt.Sprintf("order of %q from %q and %q", o.Product, o.Candidate, o.Incumbent)
}

// Kind returns OrderDrawn.
func (o TestOrder) Kind() Kind { return OrderDrawn }

func (o TestOrder) encode() ([]byte, error) {
	return encodeValid(o, testOrderDocument{TestOrderSchema, o})
}

// DecodeTestOrder reads the canonical form of a test order. It wraps ErrForm,
// ErrSchema, ErrInvalid, ErrNumber or ErrText.
func DecodeTestOrder(data []byte) (TestOrder, error) {
	var d testOrderDocument
	if err := decode(data, &d, TestOrderSchema); err != nil {
		return TestOrder{}, fmt.Errorf("test order: decode: %w", err)
	}
	return d.TestOrder, sameForm(data, d.TestOrder.encode)
}

// mostCounted bounds nests, days and seatings, as the published schema does.
const mostCounted = 1000

func countable(n int) bool { return n >= 1 && n <= mostCounted }

// Validate checks the rules of the published schema, and that every turn is that of
// a board of the order, which stands in it once. It wraps ErrInvalid.
func (o TestOrder) Validate() error {
	if err := demand(o.String(), append(issued(o.Bench, o.Made, o.By),
		rule{matches(idForm, o.ID), "id must be a UUIDv7 in lower case"},
		rule{o.Product != "", "product is missing"},
		rule{o.Candidate != "" && o.Incumbent != "" && o.Candidate != o.Incumbent, "two suppliers are compared"},
		rule{countable(o.Nests) && countable(o.Days) && countable(o.Seatings), fmt.Sprintf("nests, days and seatings are %d, %d and %d, must be 1 to %d", o.Nests, o.Days, o.Seatings, mostCounted)},
		rule{matches(hashForm, o.Seed), "seed must be 64 lower-case hexadecimal digits"},
		rule{len(o.Lots) >= 2, "each supplier has one lot at least"},
		rule{len(o.Gauge) >= 1, "no board of the gauge study"},
		rule{len(o.Turns) >= 2, "an order has two turns at least"})...); err != nil {
		return err
	}
	return o.validateBoards()
}

func (o TestOrder) validateBoards() error {
	known := map[string]bool{}
	add := func(serial string) error {
		if err := ValidSerial(serial); err != nil {
			return err
		}
		if known[serial] {
			return demand(o.String(), rule{false, fmt.Sprintf("serial %q stands in it twice", serial)})
		}
		known[serial] = true
		return nil
	}
	for _, l := range o.Lots {
		if err := demand(o.String(), rule{l.Supplier == o.Candidate || l.Supplier == o.Incumbent, fmt.Sprintf("lot %q is of %q", l.Lot, l.Supplier)},
			rule{l.Lot != "", "a lot has no name"}, rule{len(l.Serials) >= 1, fmt.Sprintf("lot %q has no board", l.Lot)}); err != nil {
			return err
		}
		for _, s := range l.Serials {
			if err := add(s); err != nil {
				return err
			}
		}
	}
	for _, s := range o.Gauge {
		if err := add(s); err != nil {
			return err
		}
	}
	for _, t := range o.Turns {
		if !known[t.Serial] || t.Nest < 1 || t.Nest > o.Nests || t.Day < 1 || t.Day > o.Days {
			return demand(o.String(), rule{false, fmt.Sprintf("serial %q in nest %d on day %d is no turn of it", t.Serial, t.Nest, t.Day)})
		}
	}
	return nil
}
