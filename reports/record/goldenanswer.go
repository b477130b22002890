package record

import (
	"fmt"
	"slices"

	"sinkproof/bench/quantity"
)

// GoldenAnswer is what the run of a golden unit says about the bench.
type GoldenAnswer string

// The answers. None means that the bench could not tell, because of an
// interlock or a control that failed; the bench is then not proven, and not
// convicted either.
const (
	AsExpected GoldenAnswer = "as expected"
	Deviates   GoldenAnswer = "deviates"
	NoAnswer   GoldenAnswer = "none"
)

// Judge holds a run of the golden unit against what is expected of it, and says
// in words what is not as expected.
//
// A check that fails or passes where the other is expected, and a value outside
// its range, deviate. What was not answered is no answer.
func (g Golden) Judge(r Run) (GoldenAnswer, []string) {
	var deviations, missing []string
	failed := map[string]bool{}
	checks := map[string]Check{}
	for _, c := range r.Checks {
		checks[c.Name] = c
		failed[c.Name] = c.Answer == Failed
		if failed[c.Name] && !slices.Contains(g.Expected.Fails, c.Name) && !slices.Contains(g.Expected.MayFail, c.Name) {
			deviations = append(deviations, fmt.Sprintf("check %s failed: %s", c.Name, c.Why))
		}
	}
	for _, name := range g.Expected.Fails {
		switch c, asked := checks[name]; {
		case failed[name]:
		case asked && c.Answer == Passed:
			deviations = append(deviations, fmt.Sprintf("check %s passed where a fail is expected", name))
		default:
			missing = append(missing, fmt.Sprintf("check %s was not answered", name))
		}
	}
	for _, v := range g.Expected.Values {
		switch text, outside := v.judge(checks[v.Check]); {
		case outside:
			deviations = append(deviations, text)
		case text != "":
			missing = append(missing, text)
		}
	}
	if r.Verdict == None {
		missing = append(missing, "the run has no verdict: "+r.Reason)
	} else if r.Verdict != g.Expected.Verdict && len(deviations)+len(missing) == 0 {
		deviations = append(deviations, fmt.Sprintf("the verdict is %s where %s is expected", r.Verdict, g.Expected.Verdict))
	}
	all := slices.Concat(deviations, missing)
	switch {
	case len(deviations) > 0:
		return Deviates, all
	case len(missing) > 0:
		return NoAnswer, all
	}
	return AsExpected, nil
}

// judge says what is not as expected of the check's value; outside tells that
// it lies outside its range, else it could not be told.
func (v ExpectedValue) judge(c Check) (text string, outside bool) {
	if c.Value == nil || c.Value.Unit != v.Unit {
		return fmt.Sprintf("check %s has no value in %s", v.Check, v.Unit), false
	}
	x := c.Value.Value
	outside = x < v.Lower && c.Value.Bound != AtLeast || x > v.Upper && c.Value.Bound != AtMost
	switch {
	case outside:
		return fmt.Sprintf("check %s: %s is outside %s to %s", v.Check, v.text(x), v.text(v.Lower), v.text(v.Upper)), true
	case c.Value.Bound != "":
		return fmt.Sprintf("check %s: only a bound is known, %s %s", v.Check, c.Value.Bound, v.text(x)), false
	}
	return "", false
}

// text prints a number in the value's unit. The texts are signed with the
// answer, so that five digits must stay five.
func (v ExpectedValue) text(si float64) string {
	dim, err := Dimension(v.Unit)
	if err != nil {
		return fmt.Sprintf("%.5g %s", si, v.Unit)
	}
	return quantity.Quantity{SI: si, Dim: dim}.Text(5)
}

// Brief is the first of several texts and how many more there are: what one
// contact does to a golden unit can fill a page.
func Brief(texts []string) string {
	switch len(texts) {
	case 0:
		return ""
	case 1:
		return texts[0]
	}
	return fmt.Sprintf("%s; and %d more", texts[0], len(texts)-1)
}
