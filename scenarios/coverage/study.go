package coverage

import (
	"math"
	"slices"

	"sinkproof/reports/quality/moments"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/population"
)

// Config is what a study is about.
type Config struct {
	Scenario *scenarios.Scenario
	Plan     population.Plan
	// Titles gives the plain name of a fault.
	Titles map[string]string
	// Absent lists the faults that units of the product cannot have.
	Absent []Absent
	// Characteristics are the properties whose truth is known.
	Characteristics []Characteristic
	// Confidence of every interval; 0 is 0.95.
	Confidence float64
	// FaultShare is the assumed share of units with a fault in a production,
	// all faults equally likely; 0 is 0.01.
	FaultShare float64
}

// Absent is a fault that a product cannot have.
type Absent struct {
	Fault string `json:"fault"`
	Title string `json:"title"`
	// Part is what the product does not have.
	Part string `json:"part"`
}

// Characteristic is a property of a unit that a check measures.
type Characteristic struct {
	Title string
	// Check is the full name of the check, Truth the name in Outcome.Truth.
	Check, Truth string
	// Faults are those that act on this property and on nothing that its check
	// also sees. It is studied on good units and on units with one of them.
	Faults []string
}

// concerns tells whether a unit's truth is what the check should find.
func (c Characteristic) concerns(u population.Unit) bool {
	return len(u.Faults) == 0 || len(u.Faults) == 1 && slices.Contains(c.Faults, u.Faults[0])
}

// The defaults of a study.
const (
	defaultConfidence = 0.95
	defaultFaultShare = 0.01
)

// Study counts what becomes of a population. Take is for one goroutine.
type Study struct {
	*catalogue
	config          Config
	characteristics []Characteristic
	factors, moves  []float64
	classes         map[string]*tally
	order           []*tally
	spreads         []spread
	taken, rigs     int
}

// New returns a study that has seen nothing yet.
func New(c Config) *Study {
	if c.Confidence == 0 {
		c.Confidence = defaultConfidence
	}
	if c.FaultShare == 0 {
		c.FaultShare = defaultFaultShare
	}
	s := &Study{catalogue: newCatalogue(c.Scenario), config: c, factors: guardFactors(), moves: moves(), classes: map[string]*tally{}}
	for _, x := range c.Characteristics {
		if _, known := s.index[x.Check]; known {
			s.characteristics = append(s.characteristics, x)
		}
	}
	s.spreads = make([]spread, len(s.characteristics))
	for _, class := range c.Plan.Classes {
		t := &tally{class: class, signatures: map[set]int{}, guard: make([][3]int, len(s.factors)), rooms: make([][]int, len(s.questions))}
		for q := range t.rooms {
			t.rooms[q] = make([]int, len(s.moves)+1)
		}
		s.classes[class.Name] = t
		s.order = append(s.order, t)
	}
	return s
}

// tally are the counts of one class.
type tally struct {
	class      population.Class
	units      int
	verdicts   struct{ pass, fail, none int }
	signatures map[set]int // by the checks that caught the unit
	first      []set       // the signatures in the order of their coming
	// guard counts passing, failing and open units for each factor.
	guard [][3]int
	// rooms counts for each question the units by the first move of its limits
	// that lets them pass, and last those that no move of it passes.
	rooms    [][]int
	examples []Example
}

// Example is a unit that shows what a class does and should not.
type Example struct {
	Serial string `json:"serial"`
	// Seed is that of its rig: with it and the serial the unit can be drawn
	// again.
	Seed    uint64         `json:"seed"`
	Verdict record.Verdict `json:"verdict"`
	Why     string         `json:"why,omitempty"`
}

// mostExamples is how many units of a class are named.
const mostExamples = 3

// Take counts a unit. Units come in the order of the plan.
func (s *Study) Take(u population.Unit, d Digest) {
	t, known := s.classes[u.Class]
	if !known {
		return
	}
	s.taken++
	s.rigs = max(s.rigs, u.Rig.Number+1)
	t.take(u, d)
	for q, first := range d.rooms {
		t.rooms[q][first]++
	}
	if d.rooms == nil && d.verdict == record.Fail {
		for q := range t.rooms {
			t.rooms[q][len(s.moves)]++
		}
	}
	for i, x := range d.traits {
		s.spreads[i].add(x, u.Class == population.Good)
	}
}

func (t *tally) take(u population.Unit, d Digest) {
	t.units++
	switch d.verdict {
	case record.Pass:
		t.verdicts.pass++
	case record.Fail:
		t.verdicts.fail++
	default:
		t.verdicts.none++
	}
	if d.verdict == record.Fail {
		if t.signatures[d.failed] == 0 {
			t.first = append(t.first, d.failed)
		}
		t.signatures[d.failed]++
	}
	for i, v := range d.guard {
		t.guard[i][v]++
	}
	wrong := d.verdict == record.None || (u.Class == population.Good) != (d.verdict == record.Pass)
	if wrong && len(t.examples) < mostExamples {
		t.examples = append(t.examples, Example{u.Serial, u.Rig.Seed, d.verdict, d.why})
	}
}

// spread describes a characteristic over the population.
type spread struct {
	n, conforming, accepted, falseAccept, falseReject int
	good, misread, u                                  moments.Running
	ratio                                             moments.Running // error over u
	low, high                                         float64
	unit                                              string
}

func (p *spread) add(x trait, good bool) {
	if !x.there {
		return
	}
	p.n++
	p.low, p.high, p.unit = x.low, x.high, x.unit
	conforms := x.truth >= x.low && x.truth <= x.high
	switch {
	case conforms && !x.accepted:
		p.falseReject++
	case !conforms && x.accepted:
		p.falseAccept++
	}
	if conforms {
		p.conforming++
	}
	if x.accepted {
		p.accepted++
	}
	if good {
		p.good.Add(x.truth)
		p.misread.Add(x.value - x.truth)
		p.u.Add(x.u)
		p.ratio.Add((x.value - x.truth) / x.u)
	}
}

func normalOf(r *moments.Running) Normal {
	m := r.Moments()
	return Normal{m.Mean, m.SD}
}

// rootMeanSquare is the spread about zero.
func rootMeanSquare(r *moments.Running) float64 {
	m := r.Moments()
	return math.Hypot(m.Mean, math.Sqrt(m.SquaresFromMid/float64(m.N)))
}

// finite is nil for a side that is open.
func finite(limit float64) *float64 {
	if math.IsInf(limit, 0) {
		return nil
	}
	return &limit
}
