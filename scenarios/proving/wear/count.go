package wear

import (
	"fmt"
	"math"
	"time"

	"sinkproof/bench/wiring"
	"sinkproof/reports/record"
)

// Part is what one part has done.
type Part struct {
	Name string
	// Done counts operations or mate cycles, Estimated is how much of it stands
	// for interrupted runs.
	Done, Estimated float64
	// Life is the rated number; 0 where the wiring does not say.
	Life float64
	// Due is when the life is used up at the rate so far; the zero Time where
	// the part has no life or did nothing.
	Due time.Time
}

// Used is the used share of the life; 0 without one.
func (p Part) Used() float64 {
	if p.Life <= 0 {
		return 0
	}
	return p.Done / p.Life
}

// Count sums up what the entries of a chain say of one rig.
type Count struct {
	rig  *wiring.Rig
	kind string
	// done, guessed and the most of one run by part; the plug has plugName.
	done, guessed map[string]float64
	most          map[string]map[string]float64 // by scenario
	open          map[string]record.Opening
	cut           []record.Opening
	first, last   time.Time
	// Runs counts the closed runs, Interrupted those that left no record.
	Runs, Interrupted int
}

// plugName is the part whose mate cycles are counted.
const plugName = "plug"

// NewCount starts a count for a rig of a kind, record.Twin or record.Hardware.
// The moves of another rig in the same chain do not count, nor do those of another
// nest than the one that the rig is seen from.
func NewCount(rig *wiring.Rig, kind string) *Count {
	return &Count{rig: rig, kind: kind, done: map[string]float64{}, guessed: map[string]float64{},
		most: map[string]map[string]float64{}, open: map[string]record.Opening{}}
}

// Add takes the next entry of the chain. It wraps what record decodes with.
func (c *Count) Add(e record.Entry) error {
	doc, err := e.Document()
	if err != nil {
		return fmt.Errorf("count wear: %w", err)
	}
	switch g := doc.(type) { // golden units wear a bench as others do
	case record.GoldenOpening:
		doc = g.Opening
	case record.GoldenRun:
		doc = g.Run
	case record.GoldenInterruption:
		doc = g.Interruption
	}
	switch d := doc.(type) {
	case record.Opening:
		if d.Bench.Name == c.rig.Name && d.Bench.Kind == c.kind && d.Nest == c.rig.Nest.Number {
			c.open[d.ID] = d
			return c.seen(d.Started)
		}
	case record.Run:
		if _, ours := c.open[d.ID]; ours {
			delete(c.open, d.ID)
			c.run(d)
		}
	case record.Interruption:
		if o, ours := c.open[d.ID]; ours {
			delete(c.open, d.ID)
			c.Interrupted++
			c.cut = append(c.cut, o)
		}
	}
	return nil
}

func (c *Count) seen(started string) error {
	at, err := time.Parse(time.RFC3339Nano, started)
	if err != nil {
		return fmt.Errorf("count wear: start %q: %w", started, err)
	}
	if c.first.IsZero() || at.Before(c.first) {
		c.first = at
	}
	if at.After(c.last) {
		c.last = at
	}
	return nil
}

// run adds a closed run.
func (c *Count) run(r record.Run) {
	c.Runs++
	moves := map[string]float64{plugName: 1}
	for _, m := range r.Relays {
		for _, name := range m.On {
			moves[name]++
		}
	}
	for _, n := range r.Notes {
		// The check receptacle wears the plug as a unit does.
		if n.Kind == "re-seat" || n.Kind == "receptacle" {
			moves[plugName]++
		}
	}
	most := c.most[scenarioOf(r.Opening)]
	if most == nil {
		most = map[string]float64{}
		c.most[scenarioOf(r.Opening)] = most
	}
	for name, n := range moves {
		c.done[name] += n
		most[name] = max(most[name], n)
	}
}

func scenarioOf(o record.Opening) string {
	for _, f := range o.Files {
		if f.Role == record.RoleScenario {
			return f.SHA256
		}
	}
	return ""
}

// worst is what an interrupted run may have done: the most that a closed run of
// its scenario did, else of any scenario, else one.
func (c *Count) worst(o record.Opening, name string) float64 {
	if most, known := c.most[scenarioOf(o)]; known {
		return most[name]
	}
	worst, any := 0.0, false
	for _, most := range c.most {
		worst, any = max(worst, most[name]), true
	}
	if !any {
		return 1
	}
	return worst
}

// Parts lists the relays in the order of the wiring, then the plug. Runs that
// are still open count as interrupted.
func (c *Count) Parts() []Part {
	cut := c.cut
	for _, o := range c.open {
		cut = append(cut[:len(cut):len(cut)], o)
	}
	var list []Part
	for i := range c.rig.Relays {
		list = append(list, c.part(c.rig.Relays[i].Name, c.rig.Relays[i].Life, cut))
	}
	return append(list, c.part(plugName, c.rig.Nest.Matings, cut))
}

func (c *Count) part(name string, life float64, cut []record.Opening) Part {
	p := Part{Name: name, Life: life, Done: c.done[name]}
	for _, o := range cut {
		p.Estimated += c.worst(o, name)
	}
	p.Done += p.Estimated
	p.Due = due(p, c.first, c.last)
	return p
}

// furthest is the longest time that a forecast looks ahead: a hundred years.
const furthest = 100 * 365.25 * 24 * float64(time.Hour)

// Days is how many days the records span, of which a started one counts whole: a
// forecast from one day holds no longer than that day is like all others.
func (c *Count) Days() int {
	if c.first.IsZero() {
		return 0
	}
	return daysOf(c.first, c.last)
}

func daysOf(first, last time.Time) int {
	return int(math.Ceil(float64(last.Sub(first)+1) / float64(24*time.Hour)))
}

// due extrapolates the mean rate of the days from first to last, of which a
// started one counts whole.
func due(p Part, first, last time.Time) time.Time {
	if p.Life <= 0 || p.Done <= 0 || first.IsZero() {
		return time.Time{}
	}
	const day = 24 * time.Hour
	days := float64(daysOf(first, last))
	rest := (p.Life - p.Done) * days * float64(day) / p.Done
	if rest > furthest {
		return time.Time{}
	}
	return last.Add(time.Duration(max(rest, 0)))
}
