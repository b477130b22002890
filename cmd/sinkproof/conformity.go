package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/spf13/pflag"

	"sinkproof/bench"
	"sinkproof/bench/quantity"
	"sinkproof/fixtures"
	"sinkproof/reports/ledger"
	"sinkproof/reports/quality/conformance"
	"sinkproof/reports/record"
	"sinkproof/scenarios/proving/calibration"
)

// question is what a budget is to decide: limits and the guard factor.
type question struct {
	lower, upper string
	guard        float64
}

func (q *question) flags(fs *pflag.FlagSet) {
	fs.StringVar(&q.lower, "lower", "", "lower tolerance `limit`: what the uncertainty does to a decision")
	fs.StringVar(&q.upper, "upper", "", "upper tolerance `limit`")
	fs.Float64Var(&q.guard, "guard", 1, "guard `factor` r: the limits are drawn in by r times U (k = 2)")
}

func (q *question) asked() bool { return q.lower != "" || q.upper != "" }

// limits reads the limits in the dimension of the channel.
func (q *question) limits(dim quantity.Dim) (conformance.Limits, error) {
	l := conformance.Limits{Lower: math.Inf(-1), Upper: math.Inf(1)}
	for _, side := range []struct {
		flag, text string
		into       *float64
	}{{"--lower", q.lower, &l.Lower}, {"--upper", q.upper, &l.Upper}} {
		if side.text == "" {
			continue
		}
		v, err := quantity.ParseAs(side.text, dim)
		if err != nil {
			return l, usage("", "%s %s: %w", side.flag, side.text, err)
		}
		*side.into = v.SI
	}
	if !(l.Lower < l.Upper) {
		return l, usage("", "--lower %s is not below --upper %s", q.lower, q.upper)
	}
	if !(q.guard >= 0) {
		return l, usage("--guard 1", "--guard %g is below 0", q.guard)
	}
	return l, nil
}

// conformity is what a budget means for a decision (JCGM 106:2012). An open
// side is absent.
type conformity struct {
	Lower          *float64 `json:"lower,omitempty"`
	Upper          *float64 `json:"upper,omitempty"`
	AcceptanceLow  *float64 `json:"acceptance_lower,omitempty"`
	AcceptanceHigh *float64 `json:"acceptance_upper,omitempty"`
	Accepted       bool     `json:"accepted"`
	// Conforms is the probability that the true value keeps the limits.
	Conforms float64 `json:"conformance_probability"`
	// Risk is the specific consumer's risk where the value is accepted, the
	// specific producer's risk where it is rejected.
	Risk float64 `json:"specific_risk"`
	// Worst is the largest consumer's risk of any value that is accepted; with
	// two limits that of one right on the acceptance limit nearer to its own.
	Worst float64 `json:"largest_consumer_risk"`
	// Capability is (upper - lower) / 4u (JCGM 106:2012, 7.6.3).
	Capability *float64 `json:"measurement_capability_index,omitempty"`
}

// conform judges a value as a scenario would. It is nil for a bound and where
// the guard bands meet, since nothing is accepted then.
func conform(m quantity.Measured, l conformance.Limits, guard float64) *conformity {
	u := m.Std()
	rule := conformance.Guarded(l, guard, m.U().SI)
	ok := rule.Acceptance()
	if m.Bound != quantity.Exact || !(u > 0) || ok.Lower > ok.Upper {
		return nil
	}
	c := &conformity{Lower: finite(l.Lower), Upper: finite(l.Upper), AcceptanceLow: finite(ok.Lower), AcceptanceHigh: finite(ok.Upper)}
	c.Accepted = rule.Binary(m.SI) == conformance.Pass
	c.Conforms = l.Probability(m.SI, u)
	c.Risk = c.Conforms
	if c.Accepted {
		c.Risk = l.Risk(m.SI, u)
	}
	for _, end := range []float64{ok.Lower, ok.Upper} {
		if !math.IsInf(end, 0) {
			c.Worst = max(c.Worst, l.Risk(end, u))
		}
	}
	if c.Lower != nil && c.Upper != nil {
		index := (l.Upper - l.Lower) / (4 * u)
		c.Capability = &index
	}
	return c
}

func (c *conformity) print(w io.Writer, dim quantity.Dim) {
	side := func(v *float64, open string) string {
		if v == nil {
			return open
		}
		return quantity.Quantity{SI: *v, Dim: dim}.Text(4)
	}
	risk, verdict := "producer's", "rejected"
	if c.Accepted {
		risk, verdict = "consumer's", "accepted"
	}
	fmt.Fprintf(w, "accepted from %s to %s: %s; the true value keeps the limits with %.4g %%; specific %s risk %.2g %%, largest consumer's risk %.2g %%",
		side(c.AcceptanceLow, "any value"), side(c.AcceptanceHigh, "any value"), verdict, 100*c.Conforms, risk, 100*c.Risk, 100*c.Worst)
	if c.Capability != nil {
		fmt.Fprintf(w, "; capability index %.3g", *c.Capability)
	}
	fmt.Fprintln(w)
}

// kept is the latest calibration of a rig in a ledger; nil where no ledger is
// named.
func kept(ctx context.Context, path, kind string, rig *fixtures.Fixture) (_ *bench.Calibration, err error) {
	if path == "" {
		return nil, nil
	}
	v, err := ledger.OpenView(ctx, path)
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	of := (&papers{rig: rig}).calibrated(record.Bench{Name: rig.Rig.Name, Kind: kind})
	list, err := v.Calibrations(ctx, of)
	if err != nil {
		return nil, ledgerTrouble(err)
	}
	if len(list) == 0 {
		return nil, usage("sinkproof rig calibrate makes one", "ledger %s: rig %s: %w", path, of.Name, errNoCalibration)
	}
	return calibration.InForce(list[len(list)-1]), nil
}
