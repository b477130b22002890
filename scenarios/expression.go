package scenarios

import (
	"slices"
	"strings"

	"github.com/hashicorp/hcl/v2"

	"sinkproof/bench/quantity"
)

// Expr is one checked expression. Its dimension was proved when the file was
// loaded; what remains for the run is to put in the readings.
type Expr interface {
	// Dim is the dimension of the value; a truth has none and gives Number.
	Dim() quantity.Dim
	// String writes the expression as in a file.
	String() string
}

// truth is implemented by the expressions that are true or false.
type truth interface {
	Expr
	truth()
}

// literal is a quantity that stands in the file or in the product.
type literal struct {
	value quantity.Quantity
	text  string
}

// channelRef is a channel that is read when the expression is evaluated.
type channelRef struct {
	name string
	dim  quantity.Dim
}

// readingRef is an earlier reading by its full name, key and part included.
type readingRef struct {
	name string
	dim  quantity.Dim
}

// fact is a truth about the product that loading has already decided.
type fact struct {
	name  string
	holds bool
}

// negation is the unary minus.
type negation struct{ of Expr }

// arithmetic is a sum, difference, product or quotient.
type arithmetic struct {
	op          rune // '+', '-', '*', '/'
	left, right Expr
	dim         quantity.Dim
}

// call is one of the five functions.
type call struct {
	name string
	args []Expr
	dim  quantity.Dim
}

// comparison compares two values of one dimension.
type comparison struct {
	op          string // "<", "<=", ">", ">="
	left, right Expr
	at          hcl.Range
}

// logic is "and" or "or".
type logic struct {
	op          string // "&&", "||"
	left, right truth
}

// not is the opposite of a truth.
type not struct{ of truth }

func (e literal) Dim() quantity.Dim    { return e.value.Dim }
func (e channelRef) Dim() quantity.Dim { return e.dim }
func (e readingRef) Dim() quantity.Dim { return e.dim }
func (e fact) Dim() quantity.Dim       { return quantity.Number }
func (e negation) Dim() quantity.Dim   { return e.of.Dim() }
func (e arithmetic) Dim() quantity.Dim { return e.dim }
func (e call) Dim() quantity.Dim       { return e.dim }
func (e comparison) Dim() quantity.Dim { return quantity.Number }
func (e logic) Dim() quantity.Dim      { return quantity.Number }
func (e not) Dim() quantity.Dim        { return quantity.Number }

func (fact) truth()       {}
func (comparison) truth() {}
func (logic) truth()      {}
func (not) truth()        {}

func (e literal) String() string    { return e.text }
func (e channelRef) String() string { return "channel." + e.name }
func (e readingRef) String() string { return "reading." + e.name }
func (e fact) String() string       { return e.name }
func (e negation) String() string   { return "-" + bracket(e.of) }
func (e not) String() string        { return "!" + bracket(e.of) }

func (e arithmetic) String() string {
	return bracket(e.left) + " " + string(e.op) + " " + bracket(e.right)
}

func (e comparison) String() string {
	return bracket(e.left) + " " + e.op + " " + bracket(e.right)
}

func (e logic) String() string { return bracket(e.left) + " " + e.op + " " + bracket(e.right) }

func (e call) String() string {
	args := make([]string, len(e.args))
	for i, a := range e.args {
		args[i] = a.String()
	}
	return e.name + "(" + strings.Join(args, ", ") + ")"
}

// bracket puts brackets around what has an operator of its own, so that the
// text reads back to the same expression without knowing precedence.
func bracket(e Expr) string {
	switch e.(type) {
	case arithmetic, comparison, logic:
		return "(" + e.String() + ")"
	}
	return e.String()
}

// children are the expressions directly below one.
func children(e Expr) []Expr {
	switch e := e.(type) {
	case negation:
		return []Expr{e.of}
	case arithmetic:
		return []Expr{e.left, e.right}
	case call:
		return e.args
	case comparison:
		return []Expr{e.left, e.right}
	case logic:
		return []Expr{e.left, e.right}
	case not:
		return []Expr{e.of}
	}
	return nil
}

// walk visits an expression and everything below it, left to right.
func walk(e Expr, visit func(Expr)) {
	if e == nil {
		return
	}
	visit(e)
	for _, c := range children(e) {
		walk(c, visit)
	}
}

// readingsOf lists the readings an expression needs, each once, in order.
func readingsOf(e Expr) []string {
	var names []string
	walk(e, func(e Expr) {
		if r, ok := e.(readingRef); ok && !slices.Contains(names, r.name) {
			names = append(names, r.name)
		}
	})
	return names
}

// channelsOf lists the channels an expression reads, each once, in order.
func channelsOf(e Expr) []string {
	var names []string
	walk(e, func(e Expr) {
		if c, ok := e.(channelRef); ok && !slices.Contains(names, c.name) {
			names = append(names, c.name)
		}
	})
	return names
}

// constant tells whether an expression needs nothing that only a run knows.
func constant(e Expr) bool {
	return len(readingsOf(e)) == 0 && len(channelsOf(e)) == 0
}
