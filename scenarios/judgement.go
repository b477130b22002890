package scenarios

import (
	"fmt"
	"math"

	"sinkproof/bench/quantity"
	"sinkproof/reports/record"
)

// judgement is a value held against limits.
type judgement struct {
	answer record.Answer
	why    string
	value  *record.Value
	lower  *record.Limit
	upper  *record.Limit
}

// band is an acceptance interval; an open side is infinite.
type band struct{ low, high float64 }

// acceptance draws the tolerance limits in by r·U (JCGM 106:2012, 8.3.2,
// guarded acceptance); under the simple rule r is 0 and the two coincide
// (8.2.1). U is the expanded uncertainty for k = 2.
func acceptance(d record.Decision, u float64, low, high *quantity.Quantity) band {
	b := band{math.Inf(-1), math.Inf(1)}
	if low != nil {
		b.low = low.SI + d.Guard*u
	}
	if high != nil {
		b.high = high.SI - d.Guard*u
	}
	return b
}

// judge answers a check from its value.
//
// An estimate passes inside the acceptance interval and fails outside. A bound
// stands for every value on its side: it fails when none of them is
// acceptable, passes when all are, and leaves the check unanswered otherwise.
// Where the guard bands meet, the bench is too coarse to accept anything: the
// check is unanswered, unless the value violates a tolerance limit by more
// than its uncertainty, which no better bench would change.
func judge(m quantity.Measured, c Check, d record.Decision) (judgement, error) {
	value, err := record.ValueOf(m)
	if err != nil {
		return judgement{}, fmt.Errorf("judge %s: %w", c.Name, err)
	}
	ok := acceptance(d, value.U, c.Low, c.High)
	j := judgement{value: &value}
	if j.lower, err = limitOf(c.Low, ok.low, c.Source); err != nil {
		return judgement{}, fmt.Errorf("judge %s: %w", c.Name, err)
	}
	if j.upper, err = limitOf(c.High, ok.high, c.Source); err != nil {
		return judgement{}, fmt.Errorf("judge %s: %w", c.Name, err)
	}
	j.answer, j.why = decideOn(m, value.U, ok, c)
	return j, nil
}

func limitOf(q *quantity.Quantity, acceptance float64, source string) (*record.Limit, error) {
	if q == nil {
		return nil, nil
	}
	l, err := record.LimitOf(*q, acceptance, source)
	return &l, err
}

func decideOn(m quantity.Measured, u float64, ok band, c Check) (record.Answer, string) {
	if ok.low > ok.high {
		switch {
		case m.Bound == quantity.Exact && c.Low != nil && m.SI+u < c.Low.SI:
			return record.Failed, fmt.Sprintf("%s is below %s", printed(m), short(*c.Low))
		case m.Bound == quantity.Exact && c.High != nil && m.SI-u > c.High.SI:
			return record.Failed, fmt.Sprintf("%s is above %s", printed(m), short(*c.High))
		}
		return record.Unanswered, fmt.Sprintf("the uncertainty of %s leaves no room between the limits", printed(m))
	}
	// The true value lies between least and most; for an estimate both are
	// the value itself, because the guard band has taken the uncertainty.
	least, most := m.SI, m.SI
	switch {
	case m.Bound == quantity.AtLeast:
		most = math.Inf(1)
	case m.Bound == quantity.AtMost:
		least = math.Inf(-1)
	}
	switch {
	case least > ok.high:
		return record.Failed, fmt.Sprintf("%s is above %s", printed(m), accepted(ok.high, *c.High))
	case most < ok.low:
		return record.Failed, fmt.Sprintf("%s is below %s", printed(m), accepted(ok.low, *c.Low))
	case least >= ok.low && most <= ok.high:
		return record.Passed, ""
	}
	return record.Unanswered, fmt.Sprintf("%s leaves the answer open", printed(m))
}

// accepted names the limit that decided: the tolerance limit, and with it the
// acceptance limit where a guard band makes it another one.
func accepted(acceptance float64, limit quantity.Quantity) string {
	if acceptance == limit.SI {
		return short(limit)
	}
	return fmt.Sprintf("%s, the limit %s drawn in by the guard band",
		quantity.Quantity{SI: acceptance, Dim: limit.Dim}.Text(4), short(limit))
}

// short prints a limit as it was written, or to four digits where it was
// computed and has a tail.
func short(q quantity.Quantity) string {
	const longest = 10
	if text := q.String(); len(text) <= longest {
		return text
	}
	return q.Text(4)
}

// printed is a value for a sentence.
func printed(m quantity.Measured) string {
	switch m.Bound {
	case quantity.AtLeast:
		return "at least " + m.Quantity.Text(4)
	case quantity.AtMost:
		return "at most " + m.Quantity.Text(4)
	}
	return m.String()
}
