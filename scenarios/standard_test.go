package scenarios_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/hashicorp/hcl/v2"
	"github.com/hashicorp/hcl/v2/hclsyntax"
	"github.com/stretchr/testify/require"

	"sinkproof/bench/quantity"
	"sinkproof/bench/typec"
	"sinkproof/fixtures/source"
	"sinkproof/scenarios"
)

// quantities are what a limit must be written with, in order: the numbers of
// the standard, taken from the room that keeps them, and the project's own.
type quantities []quantity.Quantity

func least(r typec.Range) quantity.Quantity { return r.Min }
func most(r typec.Range) quantity.Quantity  { return r.Max }

// quote is what a check takes out of the standard; a is the advertisement of
// its round. A side that is nil quotes nothing, and is not looked at. said are
// the other numbers that its source may name.
type quote struct {
	low, high func(a typec.Advertisement) quantities
	said      quantities
}

func always(list ...quantity.Quantity) func(typec.Advertisement) quantities {
	return func(typec.Advertisement) quantities { return list }
}

// quotes are the checks whose limits stand in the USB Type-C standard.
func quotes() map[string]quote {
	rd, widest := typec.RdWindow(typec.Within10), typec.RdWindow(typec.Within20)
	margin := quantity.Seconds(0.010) // for the rig's own contacts and switch
	termination := quote{low: always(least(rd)), high: always(most(rd)), said: quantities{quantity.Pure(0.1)}}
	nothing := quote{high: always(typec.SinkThreshold(typec.Default).Typ)}
	clamp := quote{
		low:  always(least(typec.DeadBatteryClamp()), quantity.Volts(0.030)),
		high: always(most(typec.DeadBatteryClamp()), quantity.Volts(0.030)),
	}
	turns := quote{high: always(most(typec.TDRP()))}
	drp := quote{low: always(least(widest)), high: always(most(widest)), said: quantities{quantity.Pure(0.2)}}
	attach := quote{
		high: always(most(typec.AttachWorst()), margin),
		said: quantities{quantity.Seconds(0.007), quantity.Seconds(0.002), quantity.Seconds(0.001), least(typec.VSafe5V())},
	}
	inTurn := quote{high: always(most(typec.AttachWorst()), most(typec.TOnePortToggleConnect()), margin), said: attach.said}
	falls := quote{high: always(most(typec.DetachWorst())), said: quantities{most(typec.VSafe0V())}}
	window := func(a typec.Advertisement) typec.Range { return typec.SinkWindow(a, typec.R20) }
	return map[string]quote{
		"vbus-capacitance": {high: always(most(typec.SinkCapacitance()))},
		"rd-cc1":           termination, "rd-cc2": termination,
		"cross-cc1": nothing, "cross-cc2": nothing, "legacy-cc-idle": nothing,
		"clamp-cc1": clamp, "clamp-cc2": clamp,
		"shows-rd-cc1": turns, "shows-rd-cc2": turns,
		"drp-rd-cc1": drp, "drp-rd-cc2": drp,
		"legacy-vbus": {
			low:  always(least(typec.SinkVBUS())),
			said: quantities{least(typec.VSafe5V()), most(typec.DropVBUS()), most(typec.DropGND())},
		},
		"legacy-cc": {low: always(least(window(typec.Default))), high: always(most(window(typec.Default)))},
		"legacy-rd": {high: always(most(rd), quantity.Ohms(30)), said: quantities{quantity.Pure(0.05)}},
		"c-cc": {
			low:  func(a typec.Advertisement) quantities { return quantities{least(window(a))} },
			high: func(a typec.Advertisement) quantities { return quantities{most(window(a))} },
		},
		"c-advertised": {
			high: func(a typec.Advertisement) quantities { return quantities{most(typec.CurrentLimit(a))} },
		},
		"supply-stays-cold": {high: always(most(typec.VSafe0V())), said: quantities{most(typec.AttachWorst())}},
		"supply-works":      attach, "c-attach": attach, "marked-attach": attach,
		"c-attach-in-turn": inTurn, "marked-attach-in-turn": inTurn,
		"c-cold": falls, "marked-cold": falls,
		"back-feed": {high: always(most(typec.VSafe0V()), least(typec.SourceLeakage()))},
	}
}

// levels are the levels that steps wait for and draw: the standard's numbers
// in them, by the label of a threshold or the name of a wait's attribute.
func levels() map[string]quantities {
	off, on := most(typec.VSafe0V()), least(typec.VSafe5V())
	rd, pull, rail := most(typec.RdWindow(typec.Within20)), quantity.Ohms(10e3), typec.PullUpSupply(typec.To3V3).Typ
	return map[string]quantities{
		"vSafe0V": {off}, "vSafe5V": {on}, "lowest at a sink": {least(typec.SinkVBUS())},
		"lowest at the plug": {on, quantity.Ohms(0.5)}, "lowest at the unit": {on, quantity.Ohms(0.55)},
		"Rd + 20 %":      {rail, rd, pull, rd},
		"c-fall until":   {off},
		"c-on until":     {on, quantity.Ohms(0.55)},
		"c-on from":      {off},
		"marked-on from": {off}, "marked-fall until": {off},
		"marked-on until":   {on, quantity.Ohms(0.55)},
		"stand-in-on from":  {off},
		"stand-in-on until": {on, quantity.Ohms(0.5)},
	}
}

// shippedBlock is a block of a shipped scenario with the rounds around it.
type shippedBlock struct {
	file   *source.File
	block  *hclsyntax.Block
	rounds []map[string]string
	inside string // the block that it stands in
}

func (b shippedBlock) name() string { return b.block.Labels[0] }

// shippedBlocks lists every labelled block below the stages of all shipped
// scenarios.
func shippedBlocks(t *testing.T) []shippedBlock {
	t.Helper()
	var out []shippedBlock
	var walk func(f *source.File, in *hclsyntax.Block, rounds []map[string]string)
	walk = func(f *source.File, in *hclsyntax.Block, rounds []map[string]string) {
		for _, b := range in.Body.Blocks {
			if b.Type == "stage" {
				rounds = roundsOf(t, f, b)
			}
			if len(b.Labels) == 1 {
				out = append(out, shippedBlock{f, b, rounds, in.Type})
			}
			walk(f, b, rounds)
		}
	}
	for _, name := range scenarios.Names() {
		f, err := scenarios.Shipped(name)
		require.NoError(t, err)
		for _, b := range f.Body.Blocks {
			walk(f, b, nil)
		}
	}
	return out
}

// roundsOf reads for_each; a stage without it has one round that says nothing.
func roundsOf(t *testing.T, f *source.File, stage *hclsyntax.Block) []map[string]string {
	t.Helper()
	a, ok := stage.Body.Attributes["for_each"]
	if !ok {
		return []map[string]string{{}}
	}
	var out []map[string]string
	for _, item := range a.Expr.(*hclsyntax.TupleConsExpr).Exprs {
		one := map[string]string{}
		if text, ok := f.Literal(item); ok {
			one["value"] = text.Value
		} else {
			for _, field := range item.(*hclsyntax.ObjectConsExpr).Items {
				text, ok := f.Literal(field.ValueExpr)
				require.True(t, ok)
				one[hcl.ExprAsKeyword(field.KeyExpr)] = text.Value
			}
		}
		out = append(out, one)
	}
	return out
}

// written lists the quantities that an expression is written with, in order,
// in one round.
func written(t *testing.T, f *source.File, e hclsyntax.Expression, round map[string]string) quantities {
	t.Helper()
	var out quantities
	problems := hclsyntax.VisitAll(e, func(n hclsyntax.Node) hcl.Diagnostics {
		text := ""
		switch n := n.(type) {
		case *hclsyntax.TemplateExpr:
			literal, ok := f.Literal(n)
			require.True(t, ok)
			text = literal.Value
		case *hclsyntax.ScopeTraversalExpr:
			if n.Traversal.RootName() != "each" {
				return nil
			}
			text = round[n.Traversal[1].(hcl.TraverseAttr).Name]
		default:
			return nil
		}
		q, err := quantity.Parse(text)
		require.NoError(t, err)
		out = append(out, q)
		return nil
	})
	require.False(t, problems.HasErrors())
	return out
}

func (want quantities) equal(got quantities) bool {
	return slices.EqualFunc(want, got, same)
}

// same tells whether two quantities are one number, but for the rounding of
// what is computed in binary: 4.75 V - 0.5 V - 0.25 V.
func same(a, b quantity.Quantity) bool {
	return a.Dim == b.Dim && max(a.SI, b.SI)-min(a.SI, b.SI) <= 1e-12*max(a.SI, b.SI)
}

func advertised(t *testing.T, round map[string]string) typec.Advertisement {
	t.Helper()
	text, ok := round["advertisement"]
	if !ok {
		return typec.Default
	}
	a, err := typec.ParseAdvertisement(text)
	require.NoError(t, err)
	return a
}

// Every limit that quotes the USB Type-C standard is the constant of the room
// that keeps the standard's numbers: a slip of the pen in a limit fails here,
// by the name of the check.
func TestLimitsThatQuoteTheStandardAreItsConstants(t *testing.T) {
	met := map[string]bool{}
	for _, b := range shippedBlocks(t) {
		q, ok := quotes()[b.name()]
		if b.block.Type != "check" && b.block.Type != "control" || !ok {
			continue
		}
		met[b.name()] = true
		for side, want := range map[string]func(typec.Advertisement) quantities{"low": q.low, "high": q.high} {
			if want == nil {
				continue
			}
			a, ok := b.block.Body.Attributes[side]
			require.True(t, ok, "%s: %s has no %s", b.file.Path, b.name(), side)
			for _, round := range b.rounds {
				expected, got := want(advertised(t, round)), written(t, b.file, a.Expr, round)
				require.True(t, expected.equal(got), "%s: %s, %s limit %v: the standard has %v", b.file.Path, b.name(), side, got, expected)
			}
		}
	}
	for name := range quotes() {
		require.True(t, met[name], "%s is asked in a shipped scenario", name)
	}
}

func TestLevelsThatQuoteTheStandardAreItsConstants(t *testing.T) {
	met := map[string]bool{}
	look := func(b shippedBlock, name, attribute string) {
		want, ok := levels()[name]
		if !ok {
			return
		}
		met[name] = true
		got := written(t, b.file, b.block.Body.Attributes[attribute].Expr, nil)
		require.True(t, want.equal(got), "%s: %s is %v: the standard has %v", b.file.Path, name, got, want)
	}
	for _, b := range shippedBlocks(t) {
		switch b.block.Type {
		case "threshold":
			look(b, b.name(), "level")
		case "wait":
			for _, attribute := range []string{"until", "from"} {
				// A control asks for the same with the unit lifted.
				look(b, strings.TrimSuffix(b.name(), "-lifted")+" "+attribute, attribute)
			}
		}
	}
	for name := range levels() {
		require.True(t, met[name], "%s is in a shipped scenario", name)
	}
}

// A limit that says it comes from the standard is held against it above, and
// the numbers in the text of its source are those that are held.
func TestSourcesThatNameTheStandardAreHeldAgainstIt(t *testing.T) {
	// "4.59 kΩ", "± 10 %", and "0.88 to 1.32 V", where the unit follows later.
	number := regexp.MustCompile(`\b\d+(?:\.\d+)?(?: to \d+(?:\.\d+)?)? (?:ms|mV|V|kΩ|Ω|µF|µA|mA|A|%)`)
	named := 0
	for _, b := range shippedBlocks(t) {
		a, ok := b.block.Body.Attributes["source"]
		if !ok {
			continue
		}
		text, ok := b.file.Literal(a.Expr)
		require.True(t, ok)
		if !strings.Contains(text.Value, "USB") {
			continue
		}
		named++
		q, ok := quotes()[b.name()]
		require.True(t, ok, "%s names the standard; say here which of its numbers", b.name())
		allowed := slices.Clone(q.said)
		for _, side := range []func(typec.Advertisement) quantities{q.low, q.high} {
			for _, ad := range typec.Advertisements() {
				if side != nil {
					allowed = append(allowed, side(ad)...)
				}
			}
		}
		for _, found := range number.FindAllString(text.Value, -1) {
			for _, said := range ends(found) {
				got, err := quantity.Parse(said)
				require.NoError(t, err)
				require.True(t, slices.ContainsFunc(allowed, func(w quantity.Quantity) bool { return same(w, got) }),
					"%s: %s says %s, and none of its numbers is that", b.file.Path, b.name(), said)
			}
		}
	}
	require.Greater(t, named, 40)
}

// ends splits "0.88 to 1.32 V" into two quantities.
func ends(text string) []string {
	low, high, both := strings.Cut(text, " to ")
	if !both {
		return []string{text}
	}
	_, unit, _ := strings.Cut(high, " ")
	return []string{fmt.Sprint(low, " ", unit), high}
}
