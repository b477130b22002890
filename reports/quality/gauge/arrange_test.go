package gauge

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality"
)

// Names that no reading has do not count, and the first reading comes first.
func TestColumnsAreArrangedAsTheyCome(t *testing.T) {
	c := Columns{
		Parts: []string{"unused", "1", "2"}, Appraisers: []string{"B", "unused", "A"},
		Part:      []int32{2, 1, 2, 1, 1, 2, 1, 2},
		Appraiser: []int32{2, 2, 0, 0, 2, 2, 0, 0},
		Values:    []float64{1, 2, 3, 4, 5, 6, 7, 8},
	}
	s, err := c.Arrange()
	require.NoError(t, err)
	require.Equal(t, Study{
		Appraisers: []string{"A", "B"}, Parts: []string{"2", "1"},
		Values: [][][]float64{{{1, 6}, {2, 5}}, {{3, 8}, {4, 7}}},
	}, s)
	c.Values[7] = math.Inf(1)
	_, err = c.Arrange()
	require.ErrorIs(t, err, quality.ErrSample)
	require.ErrorContains(t, err, "reading 8 is +Inf")
}

// A ledger has a part for each serial. That this is no study is seen by counting:
// nothing is made for each part of what is refused.
func TestManyPartsAreRefusedByCounting(t *testing.T) {
	const n = 5000
	c := Columns{Appraisers: []string{"1", "2", "3", "4"}}
	for i := range n {
		c.Parts = append(c.Parts, strconv.Itoa(i))
		c.Part, c.Appraiser, c.Values = append(c.Part, int32(i)), append(c.Appraiser, int32(i%4)), append(c.Values, 1)
	}
	var err error
	allocations := testing.AllocsPerRun(1, func() { _, err = c.Arrange() })
	require.ErrorIs(t, err, ErrUnbalanced)
	require.ErrorContains(t, err, `appraiser "1" measured part "1" 0 times, but "1" part "0" 1 times`)
	require.Less(t, allocations, n/50.0)
}
