package coverage

import (
	"slices"

	"sinkproof/reports/quality/conformance"
	"sinkproof/reports/record"
	"sinkproof/scenarios/population"
)

// Result is what a study found. Its JSON form is what the command prints.
type Result struct {
	// Planned and Units are how many units were to be simulated and how many
	// were; they differ where somebody interrupted. Rigs is how many draws of
	// the rig they met.
	Planned    int     `json:"planned"`
	Units      int     `json:"units"`
	Rigs       int     `json:"rigs"`
	Seed       uint64  `json:"seed"`
	Confidence float64 `json:"confidence"`
	// Decision is the rule of the scenario.
	Decision record.Decision `json:"decision"`
	// FalseRejects are the good units that failed, Escapes the units with
	// faults that passed, NoVerdict the units without a verdict, of all.
	FalseRejects Rate `json:"false_rejects"`
	Escapes      Rate `json:"escapes"`
	NoVerdict    Rate `json:"no_verdict"`
	// Production are the risks of a production with FaultShare.
	Production Production `json:"production"`
	Classes    []Class    `json:"classes"`
	Checks     []Check    `json:"checks"`
	// Redundant names the questions that never were the only one to catch a
	// unit: each of them alone could go, on what was simulated. Dispensable
	// are those that could all go together.
	Redundant   []string `json:"redundant"`
	Dispensable []string `json:"dispensable"`
	// RedundantRounds are rounds of questions that are not redundant, of which
	// each alone could go.
	RedundantRounds []string `json:"redundant_rounds"`
	// Missed names the faults that no question ever caught.
	Missed []string `json:"missed"`
	// Untried names the faults of which no unit was simulated, because somebody
	// interrupted: nothing is said about those.
	Untried       []string               `json:"untried"`
	NotObservable []record.NotObservable `json:"not_observable"`
	Absent        []Absent               `json:"absent"`
	// Guard is what another guard factor would have decided.
	Guard           []GuardPoint `json:"guard"`
	Characteristics []Measured   `json:"characteristics"`
}

// Class is what became of the units of a class.
type Class struct {
	Name   string   `json:"name"`
	Title  string   `json:"title"`
	Faults []string `json:"faults"`
	Units  int      `json:"units"`
	Passed Rate     `json:"passed"`
	Failed Rate     `json:"failed"`
	None   Rate     `json:"no_verdict"`
	// Wrong is the rate of what should not be: failed in the good class, which
	// is a false reject, passed in every other, which is an escape.
	Wrong Rate `json:"wrong"`
	// Caught counts the units that each question caught, in the order of the
	// scenario; questions that caught none are left out.
	Caught []Catch `json:"caught"`
	// By says how many units were caught by no question, by one, by two and so
	// on.
	By       []int     `json:"caught_by"`
	Examples []Example `json:"examples"`
}

// Catch is how many units of a class a question caught, and how many only it.
type Catch struct {
	Check string `json:"check"`
	Units int    `json:"units"`
	Alone int    `json:"alone"`
}

// Check is what a question did.
type Check struct {
	Name   string `json:"name"`
	Title  string `json:"title"`
	Kind   string `json:"kind"`
	Rounds int    `json:"rounds"`
	// Caught counts the faulty units that failed it, Alone those that nothing
	// else caught, Good the good units that failed it.
	Caught int `json:"caught"`
	Alone  int `json:"alone"`
	Good   int `json:"good"`
	// Only lists the classes with units that nothing else caught.
	Only []Catch `json:"only"`
	// Limits is what moving the limits does, from inwards to outwards. It is
	// empty for what has no limits.
	Limits []LimitPoint `json:"limits"`
}

// LimitPoint is the effect of moving the limits of one question by a share of
// their values, outwards where it is positive: how many good units would be
// rejected and how many faulty ones escape.
type LimitPoint struct {
	Move         float64 `json:"move"`
	FalseRejects int     `json:"false_rejects"`
	Escapes      int     `json:"escapes"`
}

// GuardPoint is what a guard factor decides. Open are the units without a
// verdict, of all units.
type GuardPoint struct {
	Factor       float64 `json:"factor"`
	FalseRejects Rate    `json:"false_rejects"`
	Escapes      Rate    `json:"escapes"`
	Open         Rate    `json:"open"`
}

// Production are the global risks of a production in which a share of the
// units has a fault, all faults equally likely (JCGM 106:2012, 9.5, with a
// unit's conformity for that of a value).
type Production struct {
	FaultShare float64 `json:"fault_share"`
	// Consumer is the probability that a unit has a fault and passes, Producer
	// that it is good and fails.
	Consumer Estimate `json:"consumer_risk"`
	Producer Estimate `json:"producer_risk"`
}

// Measured is how well a characteristic is measured and decided upon.
type Measured struct {
	Title string   `json:"title"`
	Check string   `json:"check"`
	Unit  string   `json:"unit"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
	// Units were measured, of all classes; Conforming of them truly are within
	// the limits and Accepted were found to be.
	Units      int `json:"units"`
	Conforming int `json:"conforming"`
	Accepted   int `json:"accepted"`
	// Consumer counts what does not conform and was accepted, Producer what
	// conforms and was rejected: the global risks in the simulated mix.
	Consumer Rate `json:"consumer_risk"`
	Producer Rate `json:"producer_risk"`
	// Good is how the good units truly spread. Error is how far the readings
	// were off, U their mean standard uncertainty, and Ratio the standard
	// deviation of errors in units of their own uncertainty: 1 for a budget
	// that is neither timid nor bold.
	Good  Normal  `json:"good"`
	Error Normal  `json:"error"`
	U     float64 `json:"standard_uncertainty"`
	Ratio float64 `json:"error_over_uncertainty"`
	// Computed are the risks for good units of a normal spread.
	Computed *Risks `json:"computed"`
}

// Result returns what was found so far.
func (s *Study) Result() Result {
	sc := s.config.Scenario
	r := Result{
		Planned: s.config.Plan.Units(), Units: s.taken, Rigs: s.rigs, Seed: s.config.Plan.Seed, Confidence: s.config.Confidence,
		Decision: sc.Decision, NotObservable: slices.Clone(sc.NotObservable), Absent: slices.Clone(s.config.Absent),
		Missed: []string{}, Untried: []string{},
	}
	if r.NotObservable == nil {
		r.NotObservable = []record.NotObservable{}
	}
	if r.Absent == nil {
		r.Absent = []Absent{}
	}
	var good, faulty, none [2]int
	for _, t := range s.order {
		c := s.class(t)
		r.Classes = append(r.Classes, c)
		none[0], none[1] = none[0]+t.verdicts.none, none[1]+t.units
		if t.good() {
			good[0], good[1] = good[0]+t.verdicts.fail, good[1]+t.units
			continue
		}
		faulty[0], faulty[1] = faulty[0]+t.verdicts.pass, faulty[1]+t.units
		switch {
		case t.units == 0:
			r.Untried = append(r.Untried, t.class.Name)
		case t.verdicts.fail == 0:
			r.Missed = append(r.Missed, t.class.Name)
		}
	}
	r.FalseRejects, r.Escapes, r.NoVerdict = s.rate(good[0], good[1]), s.rate(faulty[0], faulty[1]), s.rate(none[0], none[1])
	r.Production = Production{
		FaultShare: s.config.FaultShare,
		Consumer:   r.Escapes.times(s.config.FaultShare), Producer: r.FalseRejects.times(1 - s.config.FaultShare),
	}
	r.Checks = s.checkResults()
	s.redundancy(&r)
	r.Guard = s.guardCurve()
	r.Characteristics = s.measured()
	return r
}

func (s *Study) rate(count, of int) Rate { return newRate(count, of, s.config.Confidence) }

func (t *tally) good() bool { return t.class.Name == population.Good }

// title is the plain name of a class.
func (s *Study) title(c population.Class) string {
	if c.Name == population.Good {
		return "good unit"
	}
	text := ""
	for i, f := range c.Faults {
		if i > 0 {
			text += " + "
		}
		if t := s.config.Titles[f]; t != "" {
			f = t
		}
		text += f
	}
	return text
}

func (s *Study) class(t *tally) Class {
	c := Class{
		Name: t.class.Name, Title: s.title(t.class), Faults: t.class.Faults, Units: t.units,
		Passed: s.rate(t.verdicts.pass, t.units), Failed: s.rate(t.verdicts.fail, t.units), None: s.rate(t.verdicts.none, t.units),
		Caught: []Catch{}, Examples: t.examples, By: []int{t.units - t.verdicts.fail},
	}
	if c.Faults == nil {
		c.Faults = []string{}
	}
	if c.Examples == nil {
		c.Examples = []Example{}
	}
	c.Wrong = c.Passed
	if t.good() {
		c.Wrong = c.Failed
	}
	counts := make([]Catch, len(s.questions))
	for _, sig := range t.first {
		n, asked := t.signatures[sig], s.asked(sig)
		for len(c.By) <= len(asked) {
			c.By = append(c.By, 0)
		}
		c.By[len(asked)] += n
		for _, q := range asked {
			counts[q].Units += n
			if len(asked) == 1 {
				counts[q].Alone += n
			}
		}
	}
	for q, x := range counts {
		if x.Units > 0 {
			x.Check = s.questions[q].name
			c.Caught = append(c.Caught, x)
		}
	}
	return c
}

func (s *Study) guardCurve() []GuardPoint {
	var out []GuardPoint
	for i, r := range s.factors {
		var good, faulty, open, goodOf, faultyOf int
		for _, t := range s.order {
			open += t.guard[i][opens]
			if t.good() {
				good, goodOf = good+t.guard[i][fails], goodOf+t.units
				continue
			}
			faulty, faultyOf = faulty+t.guard[i][passes], faultyOf+t.units
		}
		out = append(out, GuardPoint{r, s.rate(good, goodOf), s.rate(faulty, faultyOf), s.rate(open, s.taken)})
	}
	return out
}

func (s *Study) measured() []Measured {
	out := []Measured{}
	for i, c := range s.characteristics {
		p := &s.spreads[i]
		if p.n == 0 {
			continue
		}
		m := Measured{
			Title: c.Title, Check: c.Check, Unit: p.unit, Low: finite(p.low), High: finite(p.high),
			Units: p.n, Conforming: p.conforming, Accepted: p.accepted,
			Consumer: s.rate(p.falseAccept, p.n), Producer: s.rate(p.falseReject, p.n),
		}
		if p.good.N() > 1 {
			m.Good, m.Error = normalOf(&p.good), normalOf(&p.misread)
			m.U, m.Ratio = p.u.Mean(), rootMeanSquare(&p.ratio)
			if m.Good.SD > 0 && m.U > 0 {
				w := s.config.Scenario.Decision.Guard * 2 * m.U
				risks := risksOf(m.Good, m.U, conformance.Limits{Lower: p.low, Upper: p.high}, w)
				m.Computed = &risks
			}
		}
		out = append(out, m)
	}
	return out
}
