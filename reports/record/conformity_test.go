package record

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The share of a normal law beyond z standard deviations: 0.158655 for 1,
// 0.0227501 for 2, 0.00134990 for 3, 9.86588e-10 for 6 (NIST/SEMATECH e-Handbook,
// 1.3.6.7.1; Abramowitz and Stegun, table 26.1).
func TestSpecificRisks(t *testing.T) {
	limit := func(v float64) *Limit { return &Limit{Value: v, Unit: "V", Source: "s", Acceptance: v} }
	value := func(v float64) *Value { return &Value{Value: v, Unit: "V", U: 0.02} } // u = 10 mV
	for name, c := range map[string]struct {
		check          Check
		conforms, risk float64
	}{
		"on the limit":                 {Check{Answer: Passed, Value: value(5), Upper: limit(5)}, 0.5, 0.5},
		"one u inside":                 {Check{Answer: Passed, Value: value(4.99), Upper: limit(5)}, 0.841345, 0.158655},
		"guarded, on the acceptance":   {Check{Answer: Passed, Value: value(4.98), Upper: limit(5)}, 0.977250, 0.0227501},
		"six u inside keeps digits":    {Check{Answer: Passed, Value: value(4.94), Upper: limit(5)}, 1, 9.86588e-10},
		"rejected three u outside":     {Check{Answer: Failed, Value: value(5.03), Upper: limit(5)}, 0.00134990, 0.00134990},
		"rejected inside by its guard": {Check{Answer: Failed, Value: value(4.99), Upper: limit(5)}, 0.841345, 0.841345},
		"two limits, the middle":       {Check{Answer: Passed, Value: value(5), Lower: limit(4.99), Upper: limit(5.01)}, 0.682689, 0.317311},
		"below a lower limit":          {Check{Answer: Failed, Value: value(4.98), Lower: limit(5)}, 0.0227501, 0.0227501},
	} {
		k := c.check.Conformity()
		require.NotNil(t, k, name)
		require.InEpsilon(t, c.conforms, k.Conforms, 1e-5, name)
		require.InEpsilon(t, c.risk, k.Risk, 1e-5, name)
	}
	for name, c := range map[string]Check{
		"unanswered":                 {Answer: Unanswered, Value: value(5), Upper: limit(6)},
		"no value":                   {Answer: Passed, Upper: limit(6)},
		"a bound":                    {Answer: Failed, Value: &Value{Value: 5, Unit: "V", U: 0.1, Bound: AtLeast}, Upper: limit(4)},
		"no uncertainty":             {Answer: Passed, Value: &Value{Value: 5, Unit: "V"}, Upper: limit(6)},
		"no limit":                   {Answer: Passed, Value: value(5)},
		"limits the wrong way round": {Answer: Failed, Value: value(5), Lower: limit(6), Upper: limit(4)},
	} {
		require.Nil(t, c.Conformity(), name)
	}
}
