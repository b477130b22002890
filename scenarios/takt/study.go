package takt

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/population"
)

// Spent is what one run took: what a study keeps of it.
type Spent struct {
	Unit    population.Unit
	Verdict record.Verdict
	Seconds float64
	Causes  map[Cause]float64
	// Rounds are what each round took, beside the way to it; Ways the ways.
	Rounds, Ways map[string]float64
	Operations   map[string]int
	Loads        []Load
	Failed       []string
	// Line is the whole timeline, of good units only.
	Line *Timeline
}

// Study collects what runs of one scenario took. Digest may be called from
// several goroutines, Take from one.
type Study struct {
	scenario *scenarios.Scenario
	owner    map[string]string // of checks, by round
	spent    []Spent
}

// NewStudy returns a study that has seen nothing yet.
func NewStudy(sc *scenarios.Scenario) *Study {
	s := &Study{scenario: sc, owner: map[string]string{}}
	for _, r := range sc.Rounds() {
		for _, c := range r.Checks() {
			s.owner[c.Name] = r.Name
		}
	}
	return s
}

// Digest keeps what is needed of an outcome; its Kept is the *Timeline of the
// run.
func (s *Study) Digest(u population.Unit, o population.Outcome) Spent {
	x := Spent{Unit: u, Verdict: o.Run.Verdict, Rounds: map[string]float64{}, Ways: map[string]float64{}}
	for _, c := range o.Run.Checks {
		round := s.owner[c.Name]
		if c.Answer == record.Failed && round != "" && !slices.Contains(x.Failed, round) {
			x.Failed = append(x.Failed, round)
		}
	}
	if line, ok := o.Kept.(*Timeline); ok && line != nil {
		x.Seconds, x.Causes = line.Total.Seconds(), line.ByCause()
		x.Operations, x.Loads = line.Operations, line.Loads
		if u.Class == population.Good {
			x.Line = line
		}
		for _, r := range line.Rounds {
			x.Rounds[r.Name] += r.Dwell().Seconds()
			x.Ways[r.Name] += r.Way.Seconds()
		}
	}
	return x
}

// Take adds a run.
func (s *Study) Take(_ population.Unit, x Spent) { s.spent = append(s.spent, x) }

// Spent returns the runs in the order of their coming.
func (s *Study) Spent() []Spent { return s.spent }

// Samples are the runs as a plan needs them: good units and those with a fault,
// each kind with its share of the mix, and every unit of a kind alike.
func (s *Study) Samples(faultShare float64) []Sample {
	good, faulty := 0, map[string]int{}
	for _, x := range s.spent {
		if x.Unit.Class == population.Good {
			good++
		} else {
			faulty[x.Unit.Class]++
		}
	}
	if good == 0 || len(faulty) == 0 {
		if faultShare = 0; good == 0 {
			faultShare = 1 // one kind takes all
		}
	}
	var out []Sample
	for _, x := range s.spent {
		w := (1 - faultShare) / float64(max(good, 1))
		if x.Unit.Class != population.Good {
			w = faultShare / float64(len(faulty)*faulty[x.Unit.Class])
		}
		out = append(out, Sample{Weight: w, Dwell: x.Rounds, Failed: x.Failed})
	}
	return out
}

// Mean is what runs of some units took on the average.
type Mean struct {
	Units int `json:"units"`
	// Rigs is how many draws of the rig they met.
	Rigs    int     `json:"rigs"`
	Seconds float64 `json:"seconds"`
	// SE is the standard error of the mean. Units that met one draw of the rig met
	// the same supplies, so that it is the rigs that count; of one rig it is the
	// spread within it, which says less.
	SE         float64            `json:"standard_error"`
	Causes     map[Cause]float64  `json:"causes"`
	Rounds     map[string]float64 `json:"rounds"` // the way included
	Operations float64            `json:"operations"`
	// Busiest is the relay that moves most.
	Busiest           string     `json:"busiest"`
	BusiestOperations float64    `json:"busiest_operations"`
	Loads             []MeanLoad `json:"loads"`
}

// MeanLoad is the mean load of a bus.
type MeanLoad struct {
	Bus       string  `json:"bus"`
	Share     float64 `json:"share"`
	Transfers float64 `json:"transfers"`
}

// Typical is the timeline of the good unit whose run took the middle of all
// times; nil where no good unit passed.
func (s *Study) Typical() *Timeline {
	var lines []*Timeline
	for _, x := range s.spent {
		if x.Line != nil && x.Verdict == record.Pass {
			lines = append(lines, x.Line)
		}
	}
	if len(lines) == 0 {
		return nil
	}
	slices.SortStableFunc(lines, func(a, b *Timeline) int { return cmp.Compare(a.Total, b.Total) })
	return lines[len(lines)/2]
}

// ErrNonePassed is the cause where no good unit passed, whose time would count.
var ErrNonePassed = errors.New("no good unit passed")

// Good is the mean over the good units that passed.
func (s *Study) Good() (Mean, error) {
	return s.mean(func(x Spent) bool { return x.Unit.Class == population.Good && x.Verdict == record.Pass })
}

func (s *Study) mean(is func(Spent) bool) (Mean, error) {
	m := Mean{Causes: map[Cause]float64{}, Rounds: map[string]float64{}}
	var times []float64
	var rigs []int
	operations := map[string]float64{}
	for _, x := range s.spent {
		if !is(x) {
			continue
		}
		times, rigs = append(times, x.Seconds), append(rigs, x.Unit.Rig.Number)
		for c, v := range x.Causes {
			m.Causes[c] += v
		}
		for name, v := range x.Rounds {
			m.Rounds[name] += v + x.Ways[name]
		}
		for k, n := range x.Operations {
			operations[k] += float64(n)
		}
		m.addLoads(x)
	}
	if m.Units = len(times); m.Units == 0 {
		return Mean{}, fmt.Errorf("mean time of a run over %d units: %w", len(s.spent), ErrNonePassed)
	}
	n := float64(m.Units)
	for _, t := range times {
		m.Seconds += t / n
	}
	m.SE, m.Rigs = standardError(times, rigs, m.Seconds)
	for c := range m.Causes {
		m.Causes[c] /= n
	}
	for r := range m.Rounds {
		m.Rounds[r] /= n
	}
	for i := range m.Loads {
		m.Loads[i].Share /= n
		m.Loads[i].Transfers /= n
	}
	for _, k := range slices.Sorted(maps.Keys(operations)) {
		v := operations[k] / n
		m.Operations += v
		if v > m.BusiestOperations {
			m.Busiest, m.BusiestOperations = k, v
		}
	}
	return m, nil
}

// standardError is that of a mean of values that come in clusters, and how many
// clusters there are.
//
// Special cases: the values of one cluster count singly; 0 for one value.
// Method: the mean is (1/n) Σ over clusters of the sum of each, and the variance of
// those sums about what the mean makes them is estimated over the clusters, with
// c/(c-1) for their mean. For clusters of one it is s/√n.
func standardError(values []float64, clusters []int, mean float64) (se float64, count int) {
	sums, squares := map[int]float64{}, 0.0
	for i, v := range values {
		sums[clusters[i]] += v - mean
		squares += (v - mean) * (v - mean)
	}
	n, c := float64(len(values)), float64(len(sums))
	if len(sums) < 2 {
		return math.Sqrt(squares/math.Max(n-1, 1)) / math.Sqrt(n), len(sums)
	}
	between := 0.0
	for _, k := range slices.Sorted(maps.Keys(sums)) {
		between += sums[k] * sums[k]
	}
	return math.Sqrt(between*c/(c-1)) / n, len(sums)
}

func (m *Mean) addLoads(x Spent) {
	for _, l := range x.Loads {
		i := slices.IndexFunc(m.Loads, func(y MeanLoad) bool { return y.Bus == l.Bus })
		if i < 0 {
			i = len(m.Loads)
			m.Loads = append(m.Loads, MeanLoad{Bus: l.Bus})
		}
		m.Loads[i].Transfers += float64(l.Transfers)
		if x.Seconds > 0 {
			m.Loads[i].Share += l.Busy.Seconds() / x.Seconds
		}
	}
}

// Differences lists the units whose verdict in one study is another one than in
// a second study of the same plan.
func Differences(a, b *Study) []string {
	of := map[string]record.Verdict{}
	for _, x := range a.spent {
		of[x.Unit.Serial] = x.Verdict
	}
	out := []string{}
	for _, x := range b.spent {
		if before, known := of[x.Unit.Serial]; known && before != x.Verdict {
			out = append(out, fmt.Sprintf("%s: %s, then %s", x.Unit.Serial, before, x.Verdict))
		}
	}
	return out
}
