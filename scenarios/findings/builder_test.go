package findings

import (
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/record"
)

func TestClassesHaveNamesOfTheirOwn(t *testing.T) {
	for name, classes := range map[string][]Class{
		"must be 2 to":            {{Name: Good}},
		"a name of its own":       {{Name: Good}, {Name: Good}},
		`class 2 is called ""`:    {{Name: Good}, {}},
		"201 classes, must be 2 ": make([]Class, 201),
	} {
		_, err := NewBuilder(classes)
		require.ErrorIs(t, err, ErrDictionary)
		require.ErrorContains(t, err, name)
	}
}

func TestADictionaryWantsUnitsAndDifferences(t *testing.T) {
	b, err := NewBuilder([]Class{{Name: Good}, {Name: weak}})
	require.NoError(t, err)
	require.ErrorIs(t, b.Add("nobody", Signature{}), ErrDictionary)
	alike := SignatureOf(record.Run{Readings: []record.Reading{{Name: "v", Value: record.Value{Value: 5, Unit: "V"}}}})
	for range leastUnits {
		require.NoError(t, b.Add(Good, alike))
	}
	_, err = b.Dictionary()
	require.ErrorContains(t, err, `class "weak" has 0 units`)
	for range leastUnits {
		require.NoError(t, b.Add(weak, alike))
	}
	_, err = b.Dictionary()
	require.ErrorIs(t, err, ErrDictionary)
	require.ErrorContains(t, err, "gives the same")
}

func TestWhatOnlyTroubleBringsIsNoName(t *testing.T) {
	b := sampleBuilder(t, 20)
	for i := range 20 {
		run := sampleRun(weak, uint64(i))
		run.Readings = append(run.Readings, record.Reading{Name: "again", Value: record.Value{Value: 1, Unit: "A"}})
		require.NoError(t, b.Add(weak, SignatureOf(run)))
	}
	d, err := b.Dictionary()
	require.NoError(t, err)
	for _, n := range d.names {
		require.NotEqual(t, "again", n.name)
	}
}

// A reading that no check rests on counts as reached or not, whatever its
// value is.
func TestValuesOfWhatNoCheckAsksForAreNotCut(t *testing.T) {
	b, err := NewBuilder([]Class{{Name: Good}, {Name: weak}})
	require.NoError(t, err)
	for i := range 30 {
		for class, x := range map[string]float64{Good: 1, weak: 100} {
			v := record.Value{Value: x + float64(i)/100, Unit: "s"}
			run := record.Run{Readings: []record.Reading{{Name: "waited", Value: v}, {Name: "asked", Value: v}}, Checks: []record.Check{answered("c", "C", "asked")}}
			require.NoError(t, b.Add(class, SignatureOf(run)))
		}
	}
	d, err := b.Dictionary()
	require.NoError(t, err)
	require.Len(t, d.names, 1)
	require.Equal(t, "asked", d.names[0].name)
}
