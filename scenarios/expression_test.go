package scenarios

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/bench/quantity"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/fixtures/source"
)

// taken gives an expression readings by name.
type taken map[string]quantity.Measured

func (t taken) reading(name string) (quantity.Measured, error) {
	m, ok := t[name]
	if !ok {
		return quantity.Measured{}, fmt.Errorf("%s: %w", name, errMissing)
	}
	return m, nil
}

func (t taken) channel(name string) (quantity.Measured, error) { return t.reading("channel." + name) }

// volts and amperes refer to readings of a test.
func volts(name string) Expr   { return readingRef{name, quantity.Voltage} }
func amperes(name string) Expr { return readingRef{name, quantity.Current} }

func known(q quantity.Quantity) Expr { return literal{q, q.String()} }

// compiled reads an expression of a scenario text whose first stage reads the
// voltage v and the current i.
func compiled(t *testing.T, text string) (Expr, source.Diagnostics) {
	t.Helper()
	file, found := source.Parse("x.hcl", []byte("x = "+text+"\n"))
	require.NoError(t, found.Err())
	rig, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	prod, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	l := &loader{file: file, rig: rig.Rig, prod: prod, excluded: map[string]string{}, declared: map[string]*declaration{
		"v": {name: "v", kind: "read", parts: map[string]quantity.Dim{"": quantity.Voltage}},
		"w": {name: "w", kind: "read", parts: map[string]quantity.Dim{"": quantity.Voltage}},
		"i": {name: "i", kind: "read", parts: map[string]quantity.Dim{"": quantity.Current}},
	}}
	f := &frame{loader: l, stage: 1, channels: true, readings: true}
	return f.compiler().compile(file.Body.Attributes["x"].Expr), l.ds
}

func TestExpressionsBindAsInArithmetic(t *testing.T) {
	for text, want := range map[string]string{
		`reading.v + reading.w * 2`:                           "reading.v + (reading.w * 2)",
		`(reading.v + reading.w) * 2`:                         "(reading.v + reading.w) * 2",
		`reading.v - reading.w - "1 V"`:                       "(reading.v - reading.w) - 1 V",
		`-reading.v / reading.i`:                              "-reading.v / reading.i",
		`reading.v > "1 V" && !has.data || reading.v < "2 V"`: "reading.v < 2 V",
		`max(reading.v, channel.vbus)`:                        "max(reading.v, channel.vbus)",
		`product.charger.fast_current.low`:                    "product.charger.fast_current.low",
	} {
		e, found := compiled(t, text)
		require.Empty(t, found, text)
		require.Equal(t, want, e.String(), text)
	}
}

func TestDimensionsFollowTheOperators(t *testing.T) {
	for text, want := range map[string]quantity.Dim{
		`reading.v / reading.i`:          quantity.Resistance,
		`reading.v * reading.i`:          quantity.Power,
		`ratio(reading.v, reading.w)`:    quantity.Number,
		`mean(reading.v, reading.w)`:     quantity.Voltage,
		`reading.i * "1 kΩ" + reading.v`: quantity.Voltage,
		`abs(-reading.i)`:                quantity.Current,
		`"1 V/s" * "2 s"`:                quantity.Voltage,
	} {
		e, found := compiled(t, text)
		require.Empty(t, found, text)
		require.Equal(t, want, e.Dim(), text)
	}
}

// Where the product settles one side of a truth, the other side alone decides,
// and may name what the product does not have.
func TestFactsOfTheProductSettleTruths(t *testing.T) {
	for text, want := range map[string]string{
		`has.cell.substitute || reading.v >= product.cell.lowest`: "has.cell.substitute",
		`has.cell.fitted && reading.v >= product.cell.lowest`:     "has.cell.fitted",
		`has.data && reading.v >= "1 V"`:                          "reading.v >= 1 V",
		`has.cell.fitted || reading.v >= "1 V"`:                   "reading.v >= 1 V",
	} {
		e, found := compiled(t, text)
		require.Empty(t, found, text)
		require.Equal(t, want, e.String(), text)
	}
}

func TestReasonsNameTheFactThatDecides(t *testing.T) {
	for text, want := range map[string]string{
		`has.cell.fitted`:                               "no cell is fitted",
		`!has.data`:                                     "its data contacts are joined",
		`has.indicator && has.cell.fitted`:              "no cell is fitted",
		`has.cell.fitted || has.cell.absent`:            "no cell is fitted, and it is not tested without a cell",
		`has.indicator && !(has.data || has.indicator)`: "its data contacts are joined, and it has an indicator",
	} {
		e, found := compiled(t, text)
		require.Empty(t, found, text)
		require.Equal(t, want, reasons(e.(truth)), text)
	}
}

func TestEveryFactHasWordsForBothAnswers(t *testing.T) {
	for _, name := range product.Features() {
		for _, holds := range []bool{true, false} {
			f := fact{"has." + name, holds}
			require.NotContains(t, f.because(), "has.", name)
			require.NotEqual(t, f.because(), fact{f.name, !holds}.because(), name)
		}
	}
}

// A tree of operators over three readings that share a source, against a
// Monte Carlo that draws the sources (JCGM 101:2008, 5): the standard
// uncertainty agrees within the error of the draws, 2 % for 20,000.
func TestUncertaintyAgreesWithMonteCarlo(t *testing.T) {
	gain := func(si float64) quantity.Contribution {
		return quantity.Contribution{Source: "gain", Std: 0.002, Sens: si, Dist: "normal"}
	}
	offset := func(name string, std float64) quantity.Contribution {
		return quantity.Contribution{Source: name, Std: std, Sens: 1, Dist: "normal"}
	}
	at := taken{
		"v": quantity.NewMeasured(quantity.Volts(5.0), gain(5.0), offset("offset v", 0.003)),
		"w": quantity.NewMeasured(quantity.Volts(4.6), gain(4.6), offset("offset w", 0.002)),
		"i": quantity.NewMeasured(quantity.Amperes(0.4), offset("offset i", 0.001)),
	}
	for _, text := range []string{
		`(reading.v - reading.w) / reading.i`,
		`ratio(reading.v, reading.w)`,
		`mean(reading.v, reading.w, "4.8 V")`,
		`max(reading.v, reading.w) * 2 - min(reading.v, reading.w)`,
		`abs(reading.w - reading.v) + "1 V"`,
		`"10 kΩ" * reading.w / (reading.v - reading.w)`,
		`-reading.v * reading.i`,
	} {
		e, found := compiled(t, text)
		require.Empty(t, found, text)
		m, err := evaluate(e, at)
		require.NoError(t, err, text)
		mean, std := draw(t, e, at, 20_000)
		require.InEpsilon(t, std, m.Std(), 0.03, text)
		require.InDelta(t, mean, m.SI, 4*std, text)
	}
}

// draw evaluates an expression on readings whose sources are drawn.
func draw(t *testing.T, e Expr, at taken, n int) (mean, std float64) {
	t.Helper()
	random := rand.New(rand.NewPCG(1, 2))
	var sum, squares float64
	for range n {
		causes := map[string]float64{}
		drawn := taken{}
		for _, name := range []string{"v", "w", "i"} {
			si := at[name].SI
			for _, c := range at[name].Parts {
				if _, seen := causes[c.Source]; !seen {
					causes[c.Source] = c.Std * random.NormFloat64()
				}
				si += c.Sens * causes[c.Source]
			}
			drawn[name] = quantity.Known(quantity.Quantity{SI: si, Dim: at[name].Dim})
		}
		m, err := evaluate(e, drawn)
		require.NoError(t, err)
		sum += m.SI
		squares += m.SI * m.SI
	}
	mean = sum / float64(n)
	return mean, math.Sqrt(squares/float64(n) - mean*mean)
}

func TestTruthsOfBoundsMayBeOpen(t *testing.T) {
	at := taken{
		"v":    quantity.Known(quantity.Volts(2)),
		"high": quantity.Known(quantity.Volts(2)).WithBound(quantity.AtLeast),
		"low":  quantity.Known(quantity.Volts(2)).WithBound(quantity.AtMost),
	}
	for _, c := range []struct {
		name  string
		op    string
		level float64
		want  trilean
	}{
		{"v", ">", 1, yes}, {"v", ">", 2, no}, {"v", ">=", 2, yes}, {"v", "<", 2, no}, {"v", "<=", 2, yes},
		{"high", ">", 1, yes}, {"high", ">", 2, open}, {"high", ">", 3, open}, {"high", "<", 3, open}, {"high", "<", 1, no},
		{"low", "<", 3, yes}, {"low", "<", 1, open}, {"low", ">", 3, no}, {"low", ">=", 1, open},
	} {
		got, err := decide(comparison{op: c.op, left: volts(c.name), right: known(quantity.Volts(c.level))}, at)
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%s %s %g", c.name, c.op, c.level)
	}
}

// Kleene's logic: not, and, or obey De Morgan, with open between no and yes.
func TestLogicObeysDeMorgan(t *testing.T) {
	at := taken{
		"yes":  quantity.Known(quantity.Volts(2)),
		"no":   quantity.Known(quantity.Volts(0)),
		"open": quantity.Known(quantity.Volts(0)).WithBound(quantity.AtLeast),
	}
	rapid.Check(t, func(t *rapid.T) {
		pick := func(label string) truth {
			name := rapid.SampledFrom([]string{"yes", "no", "open"}).Draw(t, label)
			return comparison{op: ">", left: volts(name), right: known(quantity.Volts(1))}
		}
		a, b := pick("a"), pick("b")
		left, err := decide(not{logic{"&&", a, b}}, at)
		require.NoError(t, err)
		right, err := decide(logic{"||", not{a}, not{b}}, at)
		require.NoError(t, err)
		require.Equal(t, left, right)
	})
}

func TestMissingReadingsAndImpossibleResultsAreErrors(t *testing.T) {
	at := taken{"v": quantity.Known(quantity.Volts(1)), "i": quantity.Known(quantity.Amperes(0))}
	_, err := evaluate(volts("x"), at)
	require.ErrorIs(t, err, errMissing)
	_, err = evaluate(call{"max", []Expr{volts("v"), volts("x")}, quantity.Voltage}, at)
	require.ErrorIs(t, err, errMissing)
	_, err = evaluate(arithmetic{'/', volts("v"), amperes("i"), quantity.Resistance}, at)
	require.ErrorIs(t, err, quantity.ErrRange)
	_, err = evaluate(channelRef{"vbus", quantity.Voltage}, at)
	require.ErrorIs(t, err, errMissing)
	_, err = decide(comparison{op: ">", left: volts("x"), right: volts("v")}, at)
	require.True(t, errors.Is(err, errMissing))
	_, err = evaluate(fact{"has.data", true}, at)
	require.Error(t, err)
}

func TestExpressionsListWhatTheyNeed(t *testing.T) {
	e, found := compiled(t, `reading.v + max(channel.vbus, reading.w, reading.v) * ratio(channel.vbus, channel.vforce)`)
	require.Empty(t, found)
	require.Equal(t, []string{"v", "w"}, readingsOf(e))
	require.Equal(t, []string{"vbus", "vforce"}, channelsOf(e))
	require.False(t, constant(e))
	require.True(t, constant(known(quantity.Volts(1))))
}

// FuzzExpression demands that whatever compiles evaluates without a panic, to
// the dimension that was proved.
func FuzzExpression(f *testing.F) {
	for _, text := range []string{
		`reading.v / reading.i`, `max("1 V", reading.v) - channel.vbus`, `abs(ratio(reading.v, reading.w) - 1) * 3`,
		`reading.v > "1 V" && !has.data`, `-(-reading.i) + "4 mA"`, `reading.v["x"].y`, `each.value + 1`,
	} {
		f.Add(text)
	}
	at := taken{
		"v": quantity.Known(quantity.Volts(5)), "w": quantity.Known(quantity.Volts(4)), "i": quantity.Known(quantity.Amperes(0)),
	}
	f.Fuzz(func(t *testing.T, text string) {
		file, found := source.Parse("x.hcl", []byte("x = "+text+"\n"))
		a, ok := file.Body.Attributes["x"]
		if found.HasErrors() || !ok {
			return
		}
		prod, _, err := product.Shipped("hand-lamp")
		require.NoError(t, err)
		l := &loader{file: file, rig: emptyRig(), prod: prod, excluded: map[string]string{}, declared: map[string]*declaration{
			"v": {name: "v", kind: "read", parts: map[string]quantity.Dim{"": quantity.Voltage}},
			"w": {name: "w", kind: "read", parts: map[string]quantity.Dim{"": quantity.Voltage}},
			"i": {name: "i", kind: "read", parts: map[string]quantity.Dim{"": quantity.Current}},
		}}
		fr := &frame{loader: l, stage: 1, channels: true, readings: true}
		e := fr.compiler().compile(a.Expr)
		require.Equal(t, e == nil, l.ds.HasErrors(), "%s: nothing without a mistake: %v", text, l.ds)
		if e == nil {
			return
		}
		if tr, ok := e.(truth); ok {
			_, _ = decide(tr, at)
			return
		}
		if m, err := evaluate(e, at); err == nil {
			require.Equal(t, e.Dim(), m.Dim, text)
		}
	})
}
