package moments

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/internal/published"
)

// dataOf reads the values of a case, written out or given by a rule.
func dataOf(t *testing.T, c published.Case) []float64 {
	var in struct {
		Data []float64
		Rule *struct {
			First  float64
			Repeat []float64 `json:"then_repeat_500_times"`
		} `json:"data_rule"`
	}
	published.Load(t, c.Input, &in)
	if in.Rule == nil {
		return in.Data
	}
	data := []float64{in.Rule.First}
	for range 500 {
		data = append(data, in.Rule.Repeat...)
	}
	return data
}

// certified tolerances: cases state one for all, or one for mean and one for
// the standard deviation, where decimal data are not exact in binary.
func certified(t *testing.T, c published.Case) (mean, sd, lag float64) {
	var all map[string]float64
	require.NoError(t, json.Unmarshal(c.Tolerance, &all))
	if r, ok := all["relative"]; ok {
		return r, r, r
	}
	return all["mean_relative"], all["sd_relative"], all["sd_relative"]
}

func TestCertifiedDataSets(t *testing.T) {
	published.Each(t, "06", "strd_", func(t *testing.T, c published.Case) {
		var want struct {
			N    int
			Mean float64
			SD   float64 `json:"sd_n_minus_1"`
			Lag1 float64 `json:"lag1_autocorrelation"`
		}
		published.Load(t, c.Expect, &want)
		data := dataOf(t, c)
		mean, sd, lag := certified(t, c)
		oneByOne := new(Running)
		for _, v := range data {
			oneByOne.Add(v)
		}
		for name, r := range map[string]*Running{"at once": Of(data), "one by one": oneByOne} {
			got := r.Moments()
			require.Equal(t, want.N, got.N, name)
			published.Relative(t, want.Mean, got.Mean, mean, name+" mean")
			published.Relative(t, want.SD, got.SD, sd, name+" sd")
			published.Relative(t, want.Lag1, got.Lag1, lag, name+" lag 1")
		}
	})
}

func TestPublishedSummary(t *testing.T) {
	published.Each(t, "06", "summary_", func(t *testing.T, c published.Case) {
		var in struct {
			Data []float64
			P    []float64 `json:"quantile_probabilities"`
		}
		var want struct {
			N                  int
			Mean, SD, Variance float64
			Min, Max           float64
			Type7              []float64 `json:"quantile_type7"`
			Type6              []float64 `json:"quantile_type6"`
			MAD                float64   `json:"mad_scaled_1.4826"`
			Smallg1            float64   `json:"skewness_g1"`
			Smallg2            float64   `json:"excess_kurtosis_g2"`
			BigG1              float64   `json:"skewness_G1"`
			BigG2              float64   `json:"excess_kurtosis_G2"`
		}
		published.Load(t, c.Input, &in)
		// JSON field names differ in case only, so they are looked up one by one.
		var raw map[string]json.RawMessage
		published.Load(t, c.Expect, &raw)
		published.Load(t, c.Expect, &want)
		published.Load(t, raw["skewness_g1"], &want.Smallg1)
		published.Load(t, raw["excess_kurtosis_g2"], &want.Smallg2)
		published.Load(t, raw["skewness_G1"], &want.BigG1)
		published.Load(t, raw["excess_kurtosis_G2"], &want.BigG2)
		rel := c.Named(t, "relative")
		r := Of(in.Data)
		got := r.Moments()
		require.Equal(t, want.N, got.N)
		require.Equal(t, want.Min, got.Min)
		require.Equal(t, want.Max, got.Max)
		published.Relative(t, want.Mean, r.Mean(), rel, "mean")
		published.Relative(t, want.SD, r.SD(), rel, "sd")
		published.Relative(t, want.Variance, r.Variance(), rel, "variance")
		published.Relative(t, want.Smallg1, got.SkewnessG1, rel, "g1")
		published.Relative(t, want.Smallg2, got.KurtosisG2, rel, "g2")
		published.Relative(t, want.BigG1, got.Skewness, rel, "G1")
		published.Relative(t, want.BigG2, got.Kurtosis, rel, "G2")
		slices.Sort(in.Data)
		for i, p := range in.P {
			published.Relative(t, want.Type7[i], Quantile(in.Data, p, Inclusive), rel, "type 7")
			published.Relative(t, want.Type6[i], Quantile(in.Data, p, Exclusive), rel, "type 6")
		}
		published.Relative(t, want.MAD, Deviation(in.Data), rel, "MAD")
	})
}
