package sampling

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/internal/published"
)

func TestPublishedCodeLetters(t *testing.T) {
	published.Each(t, "01", "code_letter_table", func(t *testing.T, c published.Case) {
		var want struct {
			From   []int  `json:"lot_size_from"`
			To     []*int `json:"lot_size_to"`
			Levels map[Level][]string
		}
		published.Load(t, c.Expect, &want)
		require.Len(t, want.Levels, len(Levels()))
		for _, level := range Levels() {
			for i, letter := range want.Levels[level] {
				got, err := CodeLetter(want.From[i], level)
				require.NoError(t, err)
				require.Equal(t, letter, got, "lot of %d, level %s", want.From[i], level)
				if want.To[i] != nil {
					got, err = CodeLetter(*want.To[i], level)
					require.NoError(t, err)
					require.Equal(t, letter, got, "lot of %d, level %s", *want.To[i], level)
				}
			}
		}
	})
}

func TestPublishedMasterTables(t *testing.T) {
	cells := 0
	published.Each(t, "01", "master_table_single_", func(t *testing.T, c published.Case) {
		var in struct {
			Inspection string
			Columns    []float64 `json:"AQL_columns"`
		}
		var want struct {
			Size     map[string]int      `json:"sample_size"`
			Cells    map[string][]any    `json:"Ac_or_arrow"`
			Resolved map[string][]string `json:"resolved_plan"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		s, err := ParseSeverity(in.Inspection)
		require.NoError(t, err)
		require.Equal(t, in.Columns, Limits())
		for _, row := range master(s) {
			require.Equal(t, fmt.Sprint(want.Size[row[0]]), row[1], row[0])
			for i, cell := range want.Cells[row[0]] {
				sign := map[any]string{"arrow_down": "v", "arrow_up": "^", "blank": "."}[cell]
				if n, ok := cell.(float64); ok {
					sign = fmt.Sprint(n)
				}
				require.Equal(t, sign, row[2+i], "letter %s, limit %v", row[0], in.Columns[i])
				cells++
			}
		}
		for letter, plans := range want.Resolved {
			for j, text := range plans {
				if text == "none" {
					continue
				}
				got, err := follow(letter, j, s, 10_000_000)
				require.NoError(t, err)
				require.Equal(t, text, fmt.Sprintf("%s n=%d Ac=%d Re=%d", got.PlanLetter, got.N, got.Accept, got.Reject()),
					"letter %s, limit %v, %s", letter, in.Columns[j], in.Inspection)
			}
		}
	})
	require.Equal(t, (16+17+16)*26, cells)
}

func TestPublishedLookups(t *testing.T) {
	published.Each(t, "01", "plan_lookup_", func(t *testing.T, c published.Case) {
		var in struct {
			Lot        int `json:"lot_size"`
			Level      Level
			Inspection string
			AQL        float64 `json:"AQL_percent"`
		}
		var level struct {
			Level Level `json:"inspection_level"`
		}
		var want struct {
			Code   string `json:"code_letter_from_table"`
			Letter string `json:"plan_letter"`
			N      int
			Ac, Re int
			All    bool `json:"inspect_all"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Input, &level)
		published.Load(t, c.Expect, &want)
		s, err := ParseSeverity(in.Inspection)
		require.NoError(t, err)
		got, err := Lookup(in.Lot, level.Level, in.AQL, s)
		require.NoError(t, err)
		require.Equal(t, Drawn{want.Code, want.Letter, Plan{want.N, want.Ac}, want.All}, got)
		require.Equal(t, want.Re, got.Reject())
	})
}

// TestPublishedSwitching: the wording of the rules is not verified against a
// printed copy.
func TestPublishedSwitching(t *testing.T) {
	published.Each(t, "01", "switching_sequence_", func(t *testing.T, c published.Case) {
		var in struct {
			Lots   []string `json:"lot_results"`
			Accept int      `json:"plan_Ac"`
			Start  string
			Steady bool `json:"steady_and_approved"`
		}
		var want struct {
			Used   []string `json:"inspection_used_per_lot"`
			Scores []int    `json:"switching_score_after_lot"`
			Next   string   `json:"inspection_after_last_lot"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		start, err := ParseSeverity(in.Start)
		require.NoError(t, err)
		var lots []Judged
		for _, result := range in.Lots {
			lots = append(lots, Judged{Accepted: result == "A", Accept: in.Accept, Steady: in.Steady})
		}
		used, scores, next := Replay(start, lots)
		require.Equal(t, want.Scores, scores)
		require.Equal(t, want.Next, next.String())
		var names []string
		for _, s := range used {
			names = append(names, s.String())
		}
		require.Equal(t, want.Used, names)
	})
	published.Each(t, "01", "switching_rules_definition", func(t *testing.T, c published.Case) {
		var want map[string]string
		published.Load(t, c.Expect, &want)
		require.Contains(t, want["normal_to_reduced"], fmt.Sprint(reducedFrom))
	})
}

func TestPublishedCurves(t *testing.T) {
	published.Each(t, "01", "oc_", func(t *testing.T, c published.Case) {
		var in struct {
			N, Ac int
			P     []float64
			Size  int `json:"lot_size"`
		}
		var want struct {
			Binomial       []float64 `json:"Pa_binomial"`
			Poisson        []float64 `json:"Pa_poisson"`
			Hypergeometric []float64 `json:"Pa_hypergeometric"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, p := c.Named(t, "relative"), Plan{in.N, in.Ac}
		for law, values := range map[Law][]float64{Binomial: want.Binomial, Poisson: want.Poisson, Hypergeometric: want.Hypergeometric} {
			if values == nil {
				require.Zero(t, in.Size)
				continue
			}
			for i, point := range p.Curve(Lot{law, in.Size}, in.P) {
				published.Relative(t, values[i], point.AcceptProbability, rel, fmt.Sprint(law, " at ", in.P[i]))
			}
		}
	})
}

func TestPublishedDoublePlans(t *testing.T) {
	published.Each(t, "01", "double_", func(t *testing.T, c published.Case) {
		var in struct {
			N1, Ac1, Re1, N2, Ac2, Re2 int
			P                          []float64
		}
		var want struct {
			Pa    []float64
			First []float64 `json:"Pa_first_stage"`
			ASN   []float64 `json:"average_sample_number"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		for i, f := range in.P {
			accept, first, tested := Double{in.N1, in.Ac1, in.Re1, in.N2, in.Ac2}.At(f)
			published.Relative(t, want.Pa[i], accept, rel, "accept")
			published.Relative(t, want.First[i], first, rel, "first")
			published.Relative(t, want.ASN[i], tested, rel, "tested")
		}
	})
}

func TestPublishedOutgoingQuality(t *testing.T) {
	published.Each(t, "01", "aoq_", func(t *testing.T, c published.Case) {
		var in struct {
			Size int `json:"lot_size"`
			N    int
			Ac   int
			P    []float64
		}
		var want struct {
			AOQ, ATI []float64
			AOQL     float64
			At       float64 `json:"AOQL_at_p"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel, lot := c.Named(t, "relative"), Lot{Binomial, in.Size}
		for i, p := range (Plan{in.N, in.Ac}).Curve(lot, in.P) {
			published.Relative(t, want.AOQ[i], p.AOQ, rel, "AOQ")
			published.Relative(t, want.ATI[i], p.ATI, rel, "ATI")
		}
		worst, at := Plan{in.N, in.Ac}.AOQL(lot)
		published.Relative(t, want.AOQL, worst, rel, "AOQL")
		published.Absolute(t, want.At, at, c.Named(t, "AOQL_at_p_absolute"), "at")
	})
}

func TestPublishedZeroAcceptance(t *testing.T) {
	published.Each(t, "01", "zero_accept_", func(t *testing.T, c published.Case) {
		var in struct {
			LTPD, Confidence float64
			Size             int `json:"lot_size"`
		}
		var want struct {
			N        int     `json:"n_binomial"`
			Reached  float64 `json:"confidence_reached"`
			NH       int     `json:"n_hypergeometric"`
			ReachedH float64 `json:"confidence_hypergeometric"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		abs := c.Named(t, "confidence_absolute")
		n, reached, err := ZeroAcceptance(Lot{}, in.LTPD, in.Confidence)
		require.NoError(t, err)
		require.Equal(t, want.N, n)
		published.Absolute(t, want.Reached, reached, abs, "confidence")
		if in.Size > 0 {
			n, reached, err = ZeroAcceptance(Lot{Hypergeometric, in.Size}, in.LTPD, in.Confidence)
			require.NoError(t, err)
			require.Equal(t, want.NH, n)
			published.Absolute(t, want.ReachedH, reached, abs, "confidence")
		}
	})
}

func TestPublishedQualityLevels(t *testing.T) {
	published.Each(t, "01", "quality_levels_", func(t *testing.T, c published.Case) {
		var in struct{ N, Ac int }
		var want map[string]float64
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		require.Len(t, want, 4)
		for name, p := range want {
			var accept float64
			_, err := fmt.Sscanf(name, "p_at_Pa_%f", &accept)
			require.NoError(t, err)
			published.Relative(t, p, Plan{in.N, in.Ac}.QualityAt(accept), c.Named(t, "relative"), name)
		}
	})
}

func TestPublishedPlans(t *testing.T) {
	published.Each(t, "01", "find_plan_", func(t *testing.T, c published.Case) {
		var in struct {
			AQL, Alpha, RQL, Beta float64
			Distribution          string
			Size                  int `json:"lot_size"`
		}
		var want struct {
			N, Ac int
			Good  float64 `json:"Pa_AQL"`
			Bad   float64 `json:"Pa_RQL"`
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		law := map[string]Law{"binomial": Binomial, "poisson": Poisson, "hypergeometric": Hypergeometric}[in.Distribution]
		require.Equal(t, in.Distribution, law.String())
		got, err := Find(Lot{law, in.Size}, Risks{in.AQL, in.Alpha, in.RQL, in.Beta})
		require.NoError(t, err)
		require.Equal(t, Plan{want.N, want.Ac}, got.Plan)
		published.Absolute(t, 1-want.Good, got.ProducerRisk, c.Named(t, "Pa_absolute"), "producer's risk")
		published.Absolute(t, want.Bad, got.ConsumerRisk, c.Named(t, "Pa_absolute"), "consumer's risk")
	})
}

func TestPublishedSequential(t *testing.T) {
	published.Each(t, "01", "sequential_", func(t *testing.T, c published.Case) {
		var in struct{ P1, P2, Alpha, Beta float64 }
		var want struct {
			Accept float64 `json:"acceptance_intercept"`
			Reject float64 `json:"rejection_intercept"`
			Slope  float64
		}
		published.Load(t, c.Input, &in)
		published.Load(t, c.Expect, &want)
		rel := c.Named(t, "relative")
		got, err := NewSequential(Risks{in.P1, in.Alpha, in.P2, in.Beta})
		require.NoError(t, err)
		published.Relative(t, want.Accept, got.AcceptIntercept, rel, "accept")
		published.Relative(t, want.Reject, got.RejectIntercept, rel, "reject")
		published.Relative(t, want.Slope, got.Slope, rel, "slope")
	})
}

func TestPublishedAudit(t *testing.T) {
	published.Each(t, "01", "audit_", func(t *testing.T, c published.Case) {
		var in struct {
			Drawn       int `json:"n"`
			Size        int `json:"N"`
			Confidence  float64
			Accountable float64 `json:"accountable_proportion"`
		}
		var want struct {
			Bad    int `json:"D_at_10pct"`
			Accept int `json:"largest_Ac_with_consumer_risk_below_10pct"`
		}
		// "n" and "N" differ in case only.
		var raw map[string]float64
		published.Load(t, c.Input, &in)
		published.Load(t, c.Input, &raw)
		published.Load(t, c.Expect, &want)
		lot := Lot{Hypergeometric, int(raw["N"])}
		require.Equal(t, want.Bad, whole(lot.Size, 1-in.Accountable, math.Ceil))
		require.Equal(t, want.Accept, LargestAccept(lot, int(raw["n"]), 1-in.Accountable, 1-in.Confidence))
	})
}
