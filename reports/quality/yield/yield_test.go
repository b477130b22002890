package yield

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"sinkproof/reports/quality/internal/published"
)

func TestPublishedSteps(t *testing.T) {
	published.Each(t, "10", "yield_", func(t *testing.T, c published.Case) {
		var in struct {
			In    []int `json:"units_in"`
			First []int `json:"passed_first_time"`
			Final []int `json:"passed_after_rework"`
		}
		var want struct {
			First      []float64 `json:"first_pass_yield"`
			Final      []float64 `json:"final_yield_per_step"`
			Rolled     float64   `json:"rolled_throughput_yield"`
			Normalized float64   `json:"normalized_yield"`
			Faults     float64   `json:"total_defects_per_unit_from_RTY"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		var steps []Step
		for i := range in.In {
			s := Step{in.In[i], in.First[i], in.Final[i]}
			published.Relative(t, want.First[i], s.First(), rel, "first")
			published.Relative(t, want.Final[i], s.Final(), rel, "final")
			steps = append(steps, s)
		}
		rolled := Rolled(steps)
		published.Relative(t, want.Rolled, rolled, rel, "rolled")
		published.Relative(t, want.Normalized, Normalized(rolled, len(steps)), rel, "normalized")
		published.Relative(t, want.Faults, FaultsPerUnit(rolled), rel, "faults per unit")
	})
}

func TestPublishedStations(t *testing.T) {
	published.Each(t, "10", "combined_station", func(t *testing.T, c published.Case) {
		var in struct {
			Stations []struct {
				Tested int
				First  int `json:"failed_first"`
				Final  int `json:"failed_final"`
			}
		}
		var want struct {
			First   []float64 `json:"first_pass_yield"`
			Rolled  float64   `json:"rolled_throughput_yield"`
			Overall float64   `json:"overall_final_yield"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		var steps []Step
		for i, s := range in.Stations {
			steps = append(steps, Tested(s.Tested, s.First, s.Final))
			published.Relative(t, want.First[i], steps[i].First(), rel, "first")
		}
		published.Relative(t, want.Rolled, Rolled(steps), rel, "rolled")
		published.Relative(t, want.Overall, Overall(steps), rel, "overall")
	})
}

func TestPublishedReworks(t *testing.T) {
	published.Each(t, "10", "six_sigma_r", func(t *testing.T, c published.Case) {
		var in struct {
			Defects, Rework []int
			Opportunities   int
		}
		var want struct {
			Yield  float64
			First  float64 `json:"first_time_yield"`
			Rolled float64 `json:"rolled_throughput_yield"`
			DPMO   float64
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		var steps []Reworked
		for i := range in.Defects {
			steps = append(steps, Reworked{in.Defects[i], in.Rework[i]})
		}
		passed, first, rolled := FromFaults(steps, in.Opportunities)
		published.Relative(t, want.Yield, passed, rel, "yield")
		published.Relative(t, want.First, first, rel, "first")
		published.Relative(t, want.Rolled, rolled, rel, "rolled")
		published.Relative(t, want.DPMO, million*(1-passed), rel, "per million")
	})
}

func TestPublishedOpportunities(t *testing.T) {
	published.Each(t, "10", "dpmo_", func(t *testing.T, c published.Case) {
		var in struct {
			Defects, Units int
			PerUnit        int `json:"opportunities_per_unit"`
		}
		var want struct {
			DPU, DPO, DPMO float64
			Yield          float64    `json:"yield_poisson"`
			Z              *float64   `json:"z_long_term"`
			Sigma          *float64   `json:"sigma_level_with_1.5_shift"`
			CI             [2]float64 `json:"ppm_ci95_clopper_pearson"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		o := Opportunities{in.Defects, in.Units, in.PerUnit}
		published.Relative(t, want.DPU, o.MeanFaults(), rel, "per unit")
		published.Relative(t, want.DPO, o.PerOpportunity(), rel, "per opportunity")
		published.Relative(t, want.Yield, o.Passing(), rel, "yield")
		perMillion, i := o.PerMillion(0.95)
		published.Relative(t, want.DPMO, perMillion, rel, "per million")
		published.Relative(t, want.CI[0], i.Low, rel, "low")
		published.Relative(t, want.CI[1], i.High, rel, "high")
		if want.Z == nil {
			require.True(t, math.IsInf(o.Level(), 1), "no fault, no level")
			return
		}
		published.Relative(t, *want.Z, o.Level(), rel, "z")
		published.Relative(t, *want.Sigma, o.Level()+Shift, rel, "sigma level")
	})
	published.Each(t, "10", "sigma_level_to_dpmo", func(t *testing.T, c published.Case) {
		var in struct {
			Level []float64 `json:"sigma_level"`
			Shift float64
		}
		var want struct {
			DPMO []float64 `json:"DPMO_one_sided"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		for i, level := range in.Level {
			published.Relative(t, want.DPMO[i], PerMillionAt(level, in.Shift), c.Named(t, "relative"), "per million")
		}
	})
}

func TestLevelsInvert(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.Float64Range(-3, 7).Draw(t, "level")
		require.InDelta(t, level, Level(PerMillionAt(level, Shift)/million)+Shift, 1e-8)
	})
}

func TestCountsThatMakeNoSense(t *testing.T) {
	for name, v := range map[string]float64{
		"nothing came in": Step{}.First(), "more passed": Step{5, 6, 6}.First(), "rework lost": Step{5, 4, 3}.Final(), "negative": Step{5, -1, 3}.First(),
		"no step": Rolled(nil), "a bad step": Rolled([]Step{{5, 5, 5}, {}}), "no steps": Normalized(0.9, 0), "yield above 1": Normalized(1.1, 2),
		"overall of none": Overall(nil), "overall of a bad one": Overall([]Step{{}}), "scrap of strangers": Overall([]Step{{5, 5, 5}, {9, 1, 1}}),
		"faults of 2": FaultsPerUnit(2), "more faults": Opportunities{9, 2, 3}.PerOpportunity(), "no units": Opportunities{0, 0, 3}.Passing(),
		"too many": Opportunities{1, math.MaxInt, 3}.PerOpportunity(), "share": Level(1.2),
	} {
		require.True(t, math.IsNaN(v), name)
	}
	_, i := Opportunities{9, 2, 3}.PerMillion(0.95)
	require.False(t, i.Defined())
	passed, _, _ := FromFaults([]Reworked{{3, 4}}, 5)
	require.True(t, math.IsNaN(passed))
	require.Zero(t, FaultsPerUnit(1))
	require.True(t, math.IsInf(FaultsPerUnit(0), 1) && math.IsInf(Level(1), -1))
}

func BenchmarkPerMillion(b *testing.B) {
	for b.Loop() {
		Opportunities{34, 500, 120}.PerMillion(0.95)
	}
}
