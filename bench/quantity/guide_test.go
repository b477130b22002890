package quantity

import (
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// guide is testdata/jcgm100.json: worked examples of JCGM 100:2008. The
// published figures are those of the guide, from memory; the unrounded ones
// were computed with another program (R 4.2.2).
type guide struct {
	Cases struct {
		EndGauge struct {
			Input struct {
				Contributions []struct {
					Name  string
					U, Nu float64
				} `json:"contributions_nm"`
				Confidence float64
			}
			Expect struct {
				Uc        float64 `json:"uc_nm"`
				Truncated float64 `json:"nu_eff_truncated"`
				K         float64 `json:"k_t99"`
				U99       float64 `json:"U99_nm"`
				Published struct {
					Uc  float64 `json:"uc_nm"`
					Nu  float64 `json:"nu_eff"`
					K   float64
					U99 float64 `json:"U99_nm"`
				}
			}
		} `json:"gum_H1_end_gauge"`
		Impedance struct {
			Input struct {
				V   []float64 `json:"V_volt"`
				I   []float64 `json:"I_ampere"`
				Phi []float64 `json:"phase_rad"`
			}
			Expect map[string]any
		} `json:"gum_H2_correlated_inputs"`
		Meter  dofCase `json:"welch_satterthwaite_dmm"`
		Few    dofCase `json:"welch_satterthwaite_small_df"`
		Budget struct {
			Input struct {
				Resolution float64
				RepeatSD   float64 `json:"repeat_sd"`
				RepeatN    float64 `json:"repeat_n"`
				U          float64 `json:"calibration_U"`
				K          float64 `json:"calibration_k"`
				Limit      float64 `json:"accuracy_limit_rectangular"`
			}
			Expect struct {
				Parts map[string]float64 `json:"standard_uncertainties"`
				Uc    float64
				U     float64 `json:"U_k2"`
			}
		} `json:"budget_voltage"`
	}
}

type dofCase struct {
	Input struct {
		U          []float64
		DOF        []string `json:"degrees_of_freedom"`
		Confidence float64
	}
	Expect struct {
		Uc float64
		Nu float64 `json:"nu_eff"`
		K  float64 `json:"k_truncated_df"`
		U  float64 `json:"U_truncated_df"`
	}
}

func readGuide(t *testing.T) guide {
	t.Helper()
	raw, err := os.ReadFile("testdata/jcgm100.json")
	require.NoError(t, err)
	var g guide
	require.NoError(t, json.Unmarshal(raw, &g))
	return g
}

func TestEndGaugeOfTheGuide(t *testing.T) {
	c := readGuide(t).Cases.EndGauge
	parts := make([]Contribution, 0, len(c.Input.Contributions))
	for _, p := range c.Input.Contributions {
		parts = append(parts, Normal(p.Name, p.U, 1e-9, p.Nu))
	}
	require.Len(t, parts, 6)
	length := NewMeasured(Quantity{0.050000838, metre}, parts...)

	require.InEpsilon(t, c.Expect.Uc, length.Std()*1e9, 1e-12)
	require.Equal(t, c.Expect.Truncated, length.EffectiveDOF())
	k := length.CoverageFactor(c.Input.Confidence)
	require.InEpsilon(t, c.Expect.K, k, 1e-9)
	require.InEpsilon(t, c.Expect.U99, length.Expanded(k).SI*1e9, 1e-9)

	published := c.Expect.Published
	require.Equal(t, published.Uc, math.Round(length.Std()*1e9))
	require.Equal(t, published.Nu, length.EffectiveDOF())
	require.InDelta(t, published.K, k, 0.005)
	// The guide multiplies the rounded 32 nm: 2.92 × 32 nm = 93 nm.
	require.Equal(t, published.U99, math.Round(k*published.Uc))
}

func TestEffectiveDegreesOfFreedom(t *testing.T) {
	g := readGuide(t)
	for name, c := range map[string]dofCase{"meter": g.Cases.Meter, "few": g.Cases.Few} {
		t.Run(name, func(t *testing.T) {
			m := Known(Volts(1))
			for i, u := range c.Input.U {
				dof := 0.0
				if c.Input.DOF[i] != "infinite" {
					var err error
					dof, err = strconv.ParseFloat(c.Input.DOF[i], 64)
					require.NoError(t, err)
				}
				var err error
				m, err = m.Add(NewMeasured(Volts(0), Normal("source "+strconv.Itoa(i), u, 1, dof)))
				require.NoError(t, err)
			}
			require.InEpsilon(t, c.Expect.Uc, m.Std(), 1e-12)
			require.Equal(t, math.Floor(c.Expect.Nu), m.EffectiveDOF())
			k := m.CoverageFactor(c.Input.Confidence)
			require.InEpsilon(t, c.Expect.K, k, 1e-9)
			require.InEpsilon(t, c.Expect.U, m.Expanded(k).SI, 1e-9)
		})
	}
}

func TestCoverageFactorAtItsEnds(t *testing.T) {
	exact := with(Volts(5), 0.01)
	// JCGM 100:2008, table G.1: 95 % is k = 1.960 and 95.45 % is 2.000.
	require.InDelta(t, 1.960, exact.CoverageFactor(0.95), 5e-4)
	require.InDelta(t, 2.000, exact.CoverageFactor(0.9545), 5e-4)
	require.True(t, math.IsInf(exact.EffectiveDOF(), 1))
	// JCGM 100:2008, table G.2: t for 4 degrees of freedom at 95 % is 2.78.
	short := NewMeasured(Volts(5), Normal("repeat", 0.1, 1, 4))
	require.Equal(t, 4.0, short.EffectiveDOF())
	require.InDelta(t, 2.78, short.CoverageFactor(0.95), 5e-3)
	require.True(t, math.IsNaN(short.CoverageFactor(1)))
	require.True(t, math.IsNaN(short.CoverageFactor(math.NaN())))
	require.True(t, math.IsNaN(NewMeasured(Volts(5), Normal("repeat", 0.1, 1, 0.5)).CoverageFactor(0.95)))
}

func TestVoltageBudget(t *testing.T) {
	c := readGuide(t).Cases.Budget
	in := c.Input
	m := NewMeasured(Volts(3.3),
		Normal("repeatability", in.RepeatSD/math.Sqrt(in.RepeatN), 1, in.RepeatN-1),
		Resolution("resolution", in.Resolution, 1),
		Certificate("calibration", in.U, in.K, 1),
		Uniform("accuracy_rectangular", in.Limit, 1))
	require.Len(t, c.Expect.Parts, len(m.Parts))
	for _, p := range m.Parts {
		require.InEpsilon(t, c.Expect.Parts[p.Source], p.Std, 1e-12, p.Source)
	}
	require.InEpsilon(t, c.Expect.Uc, m.Std(), 1e-12)
	require.InEpsilon(t, c.Expect.U, m.U().SI, 1e-12)
	require.Equal(t, "3.3000 V ± 0.0008 V", m.String())
}

// observed turns simultaneous observations of several quantities into means
// with the covariance of the observations: the lower triangle of its root
// gives each mean its sensitivities to independent sources of unit variance.
func observed(series ...[]float64) []Measured {
	means := make([]float64, len(series))
	for i, s := range series {
		means[i], _ = Repeat("", s)
	}
	root := make([][]float64, len(series))
	out := make([]Measured, len(series))
	names := []string{"first", "second", "third"}
	for i := range series {
		root[i] = make([]float64, len(series))
		parts := []Contribution{}
		for j := 0; j <= i; j++ {
			sum := covariance(series[i], series[j], means[i], means[j])
			for k := range j {
				sum -= root[i][k] * root[j][k]
			}
			if i == j {
				root[i][i] = math.Sqrt(sum)
			} else {
				root[i][j] = sum / root[j][j]
			}
			parts = append(parts, Normal(names[j], 1, root[i][j], 0))
		}
		out[i] = NewMeasured(Pure(means[i]), parts...)
	}
	return out
}

// covariance of two means, JCGM 100:2008, formula 17.
func covariance(a, b []float64, meanA, meanB float64) float64 {
	sum, n := 0.0, float64(len(a))
	for i := range a {
		sum += (a[i] - meanA) * (b[i] - meanB)
	}
	return sum / (n * (n - 1))
}

// correlation of two measured values through their shared sources, JCGM
// 100:2008, formula F.2.
func correlation(a, b Measured) float64 {
	sum := 0.0
	for _, p := range a.Parts {
		for _, q := range b.Parts {
			if p.Source == q.Source {
				sum += p.Share() * q.Share()
			}
		}
	}
	return sum / a.Std() / b.Std()
}

// function returns f(m) with its derivative, as a caller would add one.
func function(m Measured, value, slope float64) Measured {
	out := m.Scale(slope)
	out.SI = value
	return out
}

func TestImpedanceOfTheGuide(t *testing.T) {
	c := readGuide(t).Cases.Impedance
	in := observed(c.Input.V, c.Input.I, c.Input.Phi)
	v, i, phi := in[0], in[1], in[2]
	z, err := v.Div(i)
	require.NoError(t, err)
	r, err := z.Mul(function(phi, math.Cos(phi.SI), -math.Sin(phi.SI)))
	require.NoError(t, err)
	x, err := z.Mul(function(phi, math.Sin(phi.SI), math.Cos(phi.SI)))
	require.NoError(t, err)

	got := map[string]float64{
		"R": r.SI, "X": x.SI, "Z": z.SI, "u_R": r.Std(), "u_X": x.Std(), "u_Z": z.Std(),
		"r_VI": correlation(v, i), "r_Vphase": correlation(v, phi), "r_Iphase": correlation(i, phi),
		"r_RX": correlation(r, x), "r_RZ": correlation(r, z), "r_XZ": correlation(x, z),
	}
	published, ok := c.Expect["published"].(map[string]any)
	require.True(t, ok)
	for name, value := range got {
		require.InEpsilon(t, c.Expect[name], value, 1e-6, name)
		tolerance := 0.001
		if name[0] == 'r' {
			tolerance = 0.01
		}
		require.InDelta(t, published[name], value, tolerance, name)
	}
}
