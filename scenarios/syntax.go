package scenarios

import (
	"errors"
	"math"
	"strings"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/zclconf/go-cty/cty"

	"sinkproof/bench/quantity"
	"sinkproof/fixtures/source"
)

// The fixed summaries of what can be wrong in an expression.
const (
	notInLanguage  = "not part of the language"
	notQuantity    = "not a quantity"
	dimensionsMix  = "dimensions do not fit"
	wrongArguments = "wrong arguments"
	truthAsValue   = "truth where a value belongs"
	valueAsTruth   = "value where a truth belongs"
	exactEquality  = "exact equality of measured values"
)

// compiler turns the syntax tree of one expression into an Expr, proving
// dimensions and references on the way. It returns nil where it reported a
// mistake.
type compiler struct {
	file  *source.File
	ds    *source.Diagnostics
	names resolver
}

// resolver says what a name stands for. Each method reports its own mistake
// and returns nil then.
type resolver interface {
	resolve(p path) Expr
	// each returns the text of each.NAME.
	each(p path) (source.Text, bool)
	// absence is where it is noted that something was named which this
	// product does not have.
	absence() *string
}

// value compiles what must be a quantity.
func (c *compiler) value(e hclsyntax.Expression) Expr {
	x := c.compile(e)
	if t, ok := x.(truth); ok {
		c.ds.Add(e.Range(), truthAsValue, "%s is true or false; here a quantity is needed.", t)
		return nil
	}
	return x
}

// truth compiles what must be true or false.
func (c *compiler) truth(e hclsyntax.Expression) truth {
	x := c.compile(e)
	if x == nil {
		return nil
	}
	t, ok := x.(truth)
	if !ok {
		c.ds.Add(e.Range(), valueAsTruth, "%s is %s; here something true or false is needed, such as a comparison.", x, aDim(x.Dim()))
		return nil
	}
	return t
}

func (c *compiler) compile(e hclsyntax.Expression) Expr {
	switch e := e.(type) {
	case *hclsyntax.ParenthesesExpr:
		return c.compile(e.Expression)
	case *hclsyntax.TemplateExpr:
		if text, ok := c.file.Literal(e); ok {
			return c.quantity(text)
		}
	case *hclsyntax.LiteralValueExpr:
		if !e.Val.IsNull() && e.Val.Type() == cty.Number {
			return c.number(e)
		}
	case *hclsyntax.FunctionCallExpr:
		return c.call(e)
	case *hclsyntax.UnaryOpExpr:
		return c.unary(e)
	case *hclsyntax.BinaryOpExpr:
		return c.binary(e)
	default:
		if p, ok := pathOf(c.file, e); ok {
			return c.reference(p)
		}
	}
	c.ds.Add(e.Range(), notInLanguage,
		"%s cannot stand in an expression; it takes quantities in quotes, references, + - * /, comparisons, && || ! and the functions %s.",
		capital(describe(e)), strings.Join(functionNames(), ", "))
	return nil
}

// describe names what an expression is where the syntax has more than the
// language.
func describe(e hclsyntax.Expression) string {
	switch e.(type) {
	case *hclsyntax.ConditionalExpr:
		return "a choice by ? and :"
	case *hclsyntax.ForExpr:
		return "a loop"
	case *hclsyntax.IndexExpr, *hclsyntax.RelativeTraversalExpr, *hclsyntax.SplatExpr:
		return "a part of something"
	case *hclsyntax.BinaryOpExpr, *hclsyntax.UnaryOpExpr, *hclsyntax.FunctionCallExpr, *hclsyntax.ParenthesesExpr:
		return "a computation"
	}
	return source.Describe(e)
}

// quantity takes a string literal as a quantity; a mistake is shown inside it.
func (c *compiler) quantity(t source.Text) Expr {
	q, err := quantity.Parse(t.Value)
	if err == nil {
		return literal{q, q.String()}
	}
	var p *quantity.ParseError
	if errors.As(err, &p) {
		c.ds.Add(t.At(p.Offset), notQuantity, "Found %s; this needs %s.", p.Found, p.Want)
	} else {
		c.ds.Add(t.Range, notQuantity, "%s.", err)
	}
	return nil
}

// number takes a plain number.
func (c *compiler) number(e *hclsyntax.LiteralValueExpr) Expr {
	f, _ := e.Val.AsBigFloat().Float64()
	if math.IsInf(f, 0) {
		c.ds.Add(e.Range(), notQuantity, "The number is too large; a double holds up to 1.8e308.")
		return nil
	}
	q := quantity.Pure(f)
	return literal{q, q.String()}
}

func (c *compiler) reference(p path) Expr {
	if p.root == "each" {
		if t, ok := c.names.each(p); ok {
			return c.quantity(t)
		}
		return nil
	}
	return c.names.resolve(p)
}

func functionNames() []string { return []string{"abs", "max", "mean", "min", "ratio"} }

func (c *compiler) call(e *hclsyntax.FunctionCallExpr) Expr {
	var args []Expr
	whole := true
	for _, a := range e.Args {
		x := c.value(a)
		whole = whole && x != nil
		args = append(args, x)
	}
	wants := map[string]string{"abs": "one value", "ratio": "two values", "min": "two values or more", "max": "two values or more", "mean": "two values or more"}
	want, known := wants[e.Name]
	n := len(args)
	switch {
	case !known:
		c.ds.Add(e.NameRange, notInLanguage, "There is no function %q.%s", e.Name, source.Suggest(e.Name, functionNames()))
		return nil
	case e.ExpandFinal, e.Name == "abs" && n != 1, e.Name == "ratio" && n != 2, e.Name != "abs" && n < 2:
		c.ds.Add(e.Range(), wrongArguments, "%s takes %s; found %d.", e.Name, want, n)
		return nil
	case !whole:
		return nil
	}
	for i, a := range args[1:] {
		if a.Dim() != args[0].Dim() {
			c.ds.Add(e.Args[i+1].Range(), dimensionsMix, "%s takes values of one dimension; found %s after %s.",
				e.Name, aDim(a.Dim()), aDim(args[0].Dim()))
			return nil
		}
	}
	dim := args[0].Dim()
	if e.Name == "ratio" {
		dim = quantity.Number
	}
	return call{e.Name, args, dim}
}

func (c *compiler) unary(e *hclsyntax.UnaryOpExpr) Expr {
	if e.Op == hclsyntax.OpLogicalNot {
		if t := c.truth(e.Val); t != nil {
			return not{t}
		}
		return nil
	}
	if x := c.value(e.Val); x != nil {
		return negation{x}
	}
	return nil
}

func (c *compiler) binary(e *hclsyntax.BinaryOpExpr) Expr {
	switch e.Op {
	case hclsyntax.OpLogicalAnd, hclsyntax.OpLogicalOr:
		return c.logic(e)
	case hclsyntax.OpModulo:
		c.ds.Add(e.Range(), notInLanguage, "There is no remainder of quantities; the operators are + - * /.")
		return nil
	}
	left, right := c.value(e.LHS), c.value(e.RHS)
	if left == nil || right == nil {
		return nil
	}
	switch e.Op {
	case hclsyntax.OpEqual, hclsyntax.OpNotEqual:
		c.ds.Add(e.Range(), exactEquality, "Two measured values are never exactly equal; compare with <, <=, > or >=.")
		return nil
	case hclsyntax.OpMultiply, hclsyntax.OpDivide:
		return c.product(e, left, right)
	}
	if left.Dim() != right.Dim() {
		c.ds.Add(e.Range(), dimensionsMix, "%q joins %s and %s; both sides need the same dimension.",
			operator(e.Op), aDim(left.Dim()), aDim(right.Dim()))
		return nil
	}
	switch op := operator(e.Op); op {
	case "+", "-":
		return arithmetic{rune(op[0]), left, right, left.Dim()}
	default:
		return comparison{op, left, right, e.Range()}
	}
}

// logic joins two truths. Where the product alone settles the whole by one
// side, the other side may name what the product does not have; where it
// settles nothing by it, the other side alone remains.
func (c *compiler) logic(e *hclsyntax.BinaryOpExpr) Expr {
	absent := c.names.absence()
	before := *absent
	left := c.truth(e.LHS)
	between := *absent
	right := c.truth(e.RHS)
	if left == nil || right == nil {
		return nil
	}
	or := e.Op == hclsyntax.OpLogicalOr
	holdsLeft, fixedLeft := settled(left)
	holdsRight, fixedRight := settled(right)
	switch {
	case fixedLeft == fixedRight:
		return logic{operator(e.Op), left, right}
	case fixedLeft && holdsLeft == or:
		*absent = between
		return left
	case fixedLeft:
		return right
	case holdsRight == or:
		*absent = before
		return right
	}
	return left
}

func (c *compiler) product(e *hclsyntax.BinaryOpExpr, left, right Expr) Expr {
	join := left.Dim().Times
	if e.Op == hclsyntax.OpDivide {
		join = left.Dim().Per
	}
	dim, err := join(right.Dim())
	if err != nil {
		c.ds.Add(e.Range(), dimensionsMix, "The result has no dimension that a bench could need: %s.", err)
		return nil
	}
	return arithmetic{rune(operator(e.Op)[0]), left, right, dim}
}

// operator writes an operator of the syntax tree as in a file.
func operator(op *hclsyntax.Operation) string {
	switch op {
	case hclsyntax.OpLogicalAnd:
		return "&&"
	case hclsyntax.OpLogicalOr:
		return "||"
	case hclsyntax.OpAdd:
		return "+"
	case hclsyntax.OpSubtract:
		return "-"
	case hclsyntax.OpMultiply:
		return "*"
	case hclsyntax.OpDivide:
		return "/"
	case hclsyntax.OpLessThan:
		return "<"
	case hclsyntax.OpLessThanOrEqual:
		return "<="
	case hclsyntax.OpGreaterThan:
		return ">"
	}
	return ">="
}

// path is a reference such as reading.rd1["10 kΩ"].min: a root, names, and
// after one of the names a key.
type path struct {
	root  string
	names []string
	// spots[i] is where names[i] stands.
	spots []hcl.Range
	// key is the text in brackets; keyExpr is set when it is each.NAME.
	key    *source.Text
	keyRef *path
	// keyAt counts the names before the key.
	keyAt int
	at    hcl.Range
}

// pathOf takes an expression as a reference.
func pathOf(file *source.File, e hclsyntax.Expression) (path, bool) {
	switch e := e.(type) {
	case *hclsyntax.ScopeTraversalExpr:
		p := path{root: e.Traversal.RootName(), at: e.Range()}
		return p.follow(file, e.Traversal[1:])
	case *hclsyntax.RelativeTraversalExpr:
		p, ok := pathOf(file, e.Source)
		if !ok {
			return path{}, false
		}
		p.at = e.Range()
		return p.follow(file, e.Traversal)
	case *hclsyntax.IndexExpr:
		p, ok := pathOf(file, e.Collection)
		ref, isRef := pathOf(file, e.Key)
		if !ok || !isRef || p.key != nil || p.keyRef != nil {
			return path{}, false
		}
		p.at, p.keyRef, p.keyAt = e.Range(), &ref, len(p.names)
		return p, true
	}
	return path{}, false
}

func (p path) follow(file *source.File, steps hcl.Traversal) (path, bool) {
	for _, s := range steps {
		switch s := s.(type) {
		case hcl.TraverseAttr:
			p.names = append(p.names, s.Name)
			p.spots = append(p.spots, s.SrcRange)
		case hcl.TraverseIndex:
			if p.key != nil || p.keyRef != nil || s.Key.IsNull() || s.Key.Type() != cty.String {
				return path{}, false
			}
			p.key, p.keyAt = &source.Text{Value: s.Key.AsString(), Range: s.SrcRange}, len(p.names)
		default:
			return path{}, false
		}
	}
	return p, true
}

// aDim gives a dimension its article.
func aDim(d quantity.Dim) string {
	if d == quantity.Number {
		return "a number without unit"
	}
	if strings.ContainsRune("aeiou", rune(d.String()[0])) {
		return "an " + d.String()
	}
	return "a " + d.String()
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
