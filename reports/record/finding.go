package record

import "fmt"

// Finding is what is most likely wrong on the board: either a fault that a
// diagnosis gives a probability, or what failed checks ask for.
type Finding struct {
	Title string `json:"title"`
	// Fault is the name of the fault in the dictionary that the diagnosis was
	// made with; absent on what the failed checks ask for.
	Fault string `json:"fault,omitempty"`
	// Probability is between 0 and 1; absent where none was computed.
	Probability *float64 `json:"probability,omitempty"`
	// Rework is what to do about it.
	Rework string `json:"rework,omitempty"`
	// For and Against name the checks that speak for it and against it.
	For     []string `json:"for,omitempty"`
	Against []string `json:"against,omitempty"`
	// ReadingsFor and ReadingsAgainst are the readings that speak for a fault
	// and against it, the weightiest first.
	ReadingsFor     []Testimony `json:"readings_for,omitempty"`
	ReadingsAgainst []Testimony `json:"readings_against,omitempty"`
	// Alike names the faults that the scenario cannot tell from this one over
	// part of their severity.
	Alike []string `json:"alike,omitempty"`
	// Measure is the one additional measurement that would tell them apart.
	Measure string `json:"measure,omitempty"`
}

// Testimony is what one reading says for or against a finding.
type Testimony struct {
	// Reading is its name; of a value that a check computed from several
	// readings it is the check's name after the word "check".
	Reading string `json:"reading"`
	// Text is what it says, in words with its value.
	Text string `json:"text"`
	// Weight is the natural logarithm of how many times likelier the reading
	// is under the finding than otherwise: negative where it speaks against.
	Weight float64 `json:"weight"`
}

// Diagnosis is what the probabilities of the suspects rest on.
type Diagnosis struct {
	// Dictionary is the SHA-256 of the fault dictionary in lower-case
	// hexadecimal; absent where none was at hand.
	Dictionary string `json:"dictionary,omitempty"`
	// Units is how many simulated units the dictionary was made of.
	Units int `json:"units,omitempty"`
	// Priors says in words what was assumed before the unit was looked at.
	Priors string `json:"priors,omitempty"`
	// Good is the probability that the unit has no fault.
	Good *float64 `json:"good,omitempty"`
	// Why says why no finding was made.
	Why string `json:"why,omitempty"`
}

func (f Finding) rules() []rule {
	rules := []rule{
		{f.Title != "", "a finding has no title"},
		{probable(f.Probability), "the probability of a finding is outside 0 to 1"},
	}
	for _, t := range append(f.ReadingsFor[:len(f.ReadingsFor):len(f.ReadingsFor)], f.ReadingsAgainst...) {
		rules = append(rules, rule{t.Reading != "" && t.Text != "",
			fmt.Sprintf("the finding %q rests on a reading without name or text", f.Title)})
	}
	return rules
}

func (d Diagnosis) rules() []rule {
	return []rule{
		{d.Dictionary == "" || matches(hashForm, d.Dictionary), "the hash of the fault dictionary must be 64 lower-case hexadecimal digits"},
		{d.Units >= 0, "the fault dictionary has fewer than no units"},
		{probable(d.Good), "the probability of a good unit is outside 0 to 1"},
		{d.Why != "" || d.Dictionary != "", "the diagnosis has neither a dictionary nor a reason for none"},
	}
}

// probable accepts a probability, and none.
func probable(p *float64) bool { return p == nil || *p >= 0 && *p <= 1 }
