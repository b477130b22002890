package findings

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

// The invented product of these tests has two pull-down resistors, a charge
// current that is read four times, and a lamp. dim and dark are two faults
// that coincide: a dark lamp is a dim one at its worst.
const (
	openBoth = "open-both"
	openOne  = "open-one"
	weak     = "weak"
	dim      = "dim"
	dark     = "dark"
	short    = "short"
)

func sampleClasses() []Class {
	var list []Class
	for _, name := range []string{Good, openBoth, openOne, weak, dim, dark, short} {
		list = append(list, Class{Name: name, Title: "the fault " + name, Rework: "mend " + name})
	}
	return list
}

// sampleRun is a run of one unit of a class.
func sampleRun(class string, seed uint64) record.Run {
	r := rand.New(rand.NewPCG(seed, 7))
	around := func(x, relative float64) float64 { return x * (1 + relative*(2*r.Float64()-1)) }
	rd := [2]float64{around(5100, 0.05), around(5100, 0.05)}
	open := func() float64 { return math.Pow(10, 5+3*r.Float64()) }
	current, light := around(0.4, 0.05), around(1.2, 0.2)
	switch class {
	case openBoth:
		rd[0] = open()
		rd[1] = rd[0]
	case openOne:
		rd[r.IntN(2)] = open()
	case weak:
		current *= 0.4 + 0.45*r.Float64()
	case dim:
		light *= 0.6 * r.Float64()
	case dark:
		light *= 0.3 * r.Float64()
	}
	run := record.Run{Verdict: record.Fail}
	if class == Good {
		run.Verdict = record.Pass
	}
	read := func(name, channel, unit string, x, u float64) {
		run.Readings = append(run.Readings, record.Reading{
			Name: name, Channel: channel, Condition: "some[state]", Value: record.Value{Value: x + u/4*r.NormFloat64(), Unit: unit, U: u},
		})
	}
	read("probe", "vbus", "V", 2, 0.01)
	run.Checks = append(run.Checks, answered("not-shorted", "VBUS is not shorted", "probe"))
	if class == short {
		run.Readings[0].Value.Value = 0.3 * r.Float64()
		return run
	}
	for i, x := range rd {
		read(fmt.Sprintf("r-%d", i+1), "rd", "Ω", x, 20)
		if x > 5e7 {
			run.Readings[len(run.Readings)-1].Bound = record.AtLeast
		}
	}
	for _, key := range []string{"a", "b", "c", "d"} {
		read("i["+key+"]", "ibus", "A", current, 0.001)
		run.Checks = append(run.Checks, answered("charge["+key+"]", "Charge current ("+key+")", "i["+key+"]"))
	}
	read("light", "light", "V", light, 0.005)
	run.Checks = append(run.Checks,
		answered("rd-1", "Termination 1", "r-1"), answered("rd-2", "Termination 2", "r-2"), answered("lit", "The lamp is lit", "light"),
		record.Check{Name: "held", Title: "Nothing is held up", Answer: record.Passed},
		record.Check{Name: "ratio", Title: "One termination over the other", Answer: record.Passed, Readings: []string{"r-1", "r-2"},
			Value: &record.Value{Value: run.Readings[1].Value.Value / run.Readings[2].Value.Value, Unit: "1", U: 0.01}})
	return run
}

func answered(name, title, reading string) record.Check {
	return record.Check{Name: name, Title: title, Answer: record.Passed, Readings: []string{reading}}
}

// sampleBuilder holds units of every class but those left out.
func sampleBuilder(t testing.TB, units int, without ...string) *Builder {
	t.Helper()
	var classes []Class
	for _, c := range sampleClasses() {
		if len(without) == 0 || c.Name != without[0] {
			classes = append(classes, c)
		}
	}
	b, err := NewBuilder(classes)
	require.NoError(t, err)
	for i := range units {
		for _, c := range classes {
			require.NoError(t, b.Add(c.Name, SignatureOf(sampleRun(c.Name, uint64(i)))))
		}
	}
	return b
}

func sampleDictionary(t testing.TB, units int, without ...string) *Dictionary {
	t.Helper()
	d, err := sampleBuilder(t, units, without...).Dictionary()
	require.NoError(t, err)
	return d
}

// kept takes a dictionary through its file.
func kept(t testing.TB, d *Dictionary) *Dictionary {
	t.Helper()
	data, err := d.Encode()
	require.NoError(t, err)
	again, err := Decode(data)
	require.NoError(t, err)
	return again
}
