package statistics

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality"
)

func TestPrintJSON(t *testing.T) {
	var f fields
	f.add("name", "a <b> & \"c\" \u2028")
	f.add("n", 12)
	f.add("good", true)
	f.number("zero", 0)
	f.number("tiny", 5e-324)
	f.number("exact", math.Nextafter(0.3, 1))
	f.number("nan", math.NaN())
	f.number("infinite", math.Inf(-1))
	f.interval("open", quality.Interval{Low: -1, High: math.Inf(1)})
	f.number("million", 1e6)
	f.add("list", []float64{1, 2.5e20, 1e21})
	f.add("none", []string{})
	f.add("words", []string{"x", "y"})
	f.add("out", []int{3, 4})
	f.add("points", listOf([]fields{{{name: "v", num: 1}}, {}}))
	var out bytes.Buffer
	require.NoError(t, printJSON(&out, f))
	want := `{
  "name": "a <b> & \"c\" \u2028",
  "n": 12,
  "good": true,
  "zero": 0,
  "tiny": 5e-324,
  "exact": 0.30000000000000004,
  "open_low": -1,
  "million": 1000000,
  "list": [
    1,
    250000000000000000000,
    1e+21
  ],
  "none": [],
  "words": [
    "x",
    "y"
  ],
  "out": [
    3,
    4
  ],
  "points": [
    {
      "v": 1
    },
    {}
  ]
}
`
	require.Equal(t, want, out.String())
	require.True(t, json.Valid(out.Bytes()))
	require.Equal(t, 12.0, f.get("n"))
	require.Equal(t, 5e-324, f.get("tiny"))
	require.True(t, math.IsNaN(f.get("nan")) && math.IsNaN(f.get("name")))
}

func TestPrintJSONRefusesWhatIsNoNumber(t *testing.T) {
	require.ErrorContains(t, printJSON(&bytes.Buffer{}, fields{{name: "v", value: []float64{math.NaN()}}}), "field v")
}

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errors.New("disk is full") }

func TestPrintJSONTellsThatNothingWasWritten(t *testing.T) {
	require.ErrorContains(t, printJSON(broken{}, fields{{name: "n", value: 1}}), "disk is full")
}
