package findings

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/fixtures"
	"sinkproof/fixtures/product"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
)

func TestReadingsAreCalledByWhatWasWaitedFor(t *testing.T) {
	rise := bench.Comparison{Relation: bench.AtMost, Level: quantity.Volts(0.8)}
	for name, c := range map[string]struct {
		step scenarios.Step
		want Titles
	}{
		"a wait with a title": {
			scenarios.Wait{Name: "end", Title: "Current into a full cell", Channel: "ibus", Relation: bench.AtMost, Level: quantity.Amperes(0.024)},
			Titles{
				"end":       "Current into a full cell, time until ibus is 24 mA or less",
				"end.value": "Current into a full cell, ibus at the end of the wait",
			},
		},
		"a wait without one": {
			scenarios.Wait{Name: "on[host]", Title: "on[host]", Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4)},
			Titles{
				"on[host]":       "A supply, time until vbus is 4 V or more (host)",
				"on[host].value": "A supply, vbus at the end of the wait (host)",
			},
		},
		"a wait until it is steady": {
			scenarios.Wait{Name: "calm", Title: "Charging (host)", Channel: "ibus", Relation: bench.Steady, Band: 0.02},
			Titles{
				"calm":       "Charging (host), time until ibus is steady within 2 %",
				"calm.value": "Charging (host), ibus at the end of the wait",
			},
		},
		"from a mark": {
			scenarios.Wait{Name: "on[b]", Title: "VBUS (b)", Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4.5), Origin: bench.FromMark, Mark: rise},
			Titles{
				"on[b]":       "VBUS, time until vbus is 4.5 V or more, from 800 mV or less (b)",
				"on[b].value": "VBUS, vbus at the end of the wait (b)",
			},
		},
		"a rise time": {
			scenarios.Wait{Name: "rise", Title: "Rise", Channel: "vbus", Relation: bench.AtLeast, Level: quantity.Volts(4.5), Origin: bench.FromLastMark, Mark: rise},
			Titles{
				"rise":       "Rise, time until vbus is 4.5 V or more, from the last 800 mV or less",
				"rise.value": "Rise, vbus at the end of the wait",
			},
		},
		"a reading": {
			scenarios.Read{Name: "v[a]", Title: "v[a]", Channel: "cc1"}, Titles{"v[a]": "A supply, cc1 (a)"},
		},
		"samples": {
			scenarios.Sample{Name: "s", Title: "Light", Channel: "light"},
			Titles{"s.min": "Light, lowest light", "s.max": "Light, highest light", "s.mean": "Light, mean light"},
		},
		"what is handed in": {
			scenarios.Given{Name: "cell", Title: "Voltage of the cell"}, Titles{"cell": "Voltage of the cell"},
		},
		"with the unit lifted": {
			scenarios.Check{Name: "cold", Title: "It stays cold", Lifted: &scenarios.Lifted{Steps: []scenarios.Step{scenarios.Read{Name: "l", Title: "l", Channel: "vforce"}}}},
			Titles{"l": "It stays cold, unit lifted, vforce"},
		},
		"what has no reading": {scenarios.Capture{Name: "c", Title: "C", Channel: "vbus"}, Titles{}},
	} {
		t.Run(name, func(t *testing.T) {
			s := &scenarios.Scenario{Stages: []scenarios.Stage{{Title: "A supply", Steps: []scenarios.Step{c.step}}}}
			require.Equal(t, c.want, TitlesOf(s))
		})
	}
}

// Whatever a scenario that comes with the program waits for has a title that says so.
func TestShippedScenariosSayWhatIsTimed(t *testing.T) {
	fixture, err := fixtures.Shipped("bench-one")
	require.NoError(t, err)
	made, _, err := product.Shipped("hand-lamp")
	require.NoError(t, err)
	for _, name := range scenarios.Names() {
		file, err := scenarios.Shipped(name)
		require.NoError(t, err)
		s, _ := scenarios.Load(file, fixture.Rig, made)
		require.NotNil(t, s, name)
		titles := TitlesOf(s)
		for _, stage := range s.Stages {
			for _, step := range stage.Steps {
				if w, ok := step.(scenarios.Wait); ok {
					require.Contains(t, titles[w.Name], ", time until "+w.Channel+" is ", "%s: %s", name, w.Name)
				}
			}
		}
	}
}

// What speaks for a finding says what was timed; a check keeps its own title, and
// ranks before what was read beside it.
func TestATimeSpeaksByWhatWasWaitedFor(t *testing.T) {
	b, err := NewBuilder([]Class{{Name: Good}, {Name: weak}})
	require.NoError(t, err)
	b.Call(Titles{"time": "Current into a full cell, time until ibus is 24 mA or less", "asked": "never seen"})
	run := func(class string, i int) record.Run {
		x, bound := 0.1, ""
		if class == weak {
			x, bound = 0.512, record.AtLeast
		}
		return record.Run{
			Verdict: record.Fail,
			Readings: []record.Reading{
				{Name: "time", Channel: "ibus", Value: record.Value{Value: x, Unit: "s", Bound: bound}},
				{Name: "asked", Channel: "ibus", Value: record.Value{Value: 3*x + float64(i)/1000, Unit: "A"}},
			},
			Checks: []record.Check{answered("c", "No charge", "asked")},
		}
	}
	for i := range 40 {
		for _, class := range []string{Good, weak} {
			require.NoError(t, b.Add(class, SignatureOf(run(class, i))))
		}
	}
	d, err := b.Dictionary()
	require.NoError(t, err)
	d = kept(t, d)
	found := d.Diagnose(run(weak, 7), d.Equal()).Suspects[0]
	require.Equal(t, weak, found.Class.Name)
	var said []string
	for _, f := range found.For {
		said = append(said, f.Text)
	}
	require.Len(t, said, 2)
	require.Contains(t, said[0], "No charge: ")
	require.Equal(t, "Current into a full cell, time until ibus is 24 mA or less: at least 512 ms; good units give 100 ms", said[1])
}
