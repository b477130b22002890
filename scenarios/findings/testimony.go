package findings

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sinkproof/reports/record"
)

// mostTestimony is how many readings are named for a suspect, and against it;
// leastWeight is the least weight that is worth a line: ten to one.
const (
	mostTestimony = 3
	leastWeight   = 2.3
)

// heard is a name with its weight.
type heard struct {
	name   int
	weight float64
}

// testimony lists what speaks for a class and against it.
func (d *Dictionary) testimony(class int, post []float64, t *trial) (favour, against []record.Testimony) {
	weights := rivals(class, post)
	var all []heard
	for i, code := range t.codes {
		if code != unknown {
			all = append(all, heard{i, d.weight(i, class, code, weights)})
		}
	}
	favour = d.weightiest(all, 1, func(h heard) string { return d.saysFor(h.name, class, t) })
	against = d.weightiest(all, -1, func(h heard) string { return d.saysAgainst(h.name, class, t) })
	return favour, against
}

// surprises lists what speaks for none of the known: what was least to be
// expected under the class that explains the unit best.
func (d *Dictionary) surprises(t *trial) []record.Testimony {
	best := 0
	for i, l := range t.like {
		if l > t.like[best] {
			best = i
		}
	}
	var all []heard
	for i, code := range t.codes {
		if code == unknown {
			continue
		}
		table := d.model.table(i, t.codes)
		all = append(all, heard{i, -float64(table[best*d.model.sizes[i]+int(code)])})
	}
	return d.weightiest(all, 1, func(h heard) string {
		return fmt.Sprintf("%s, not to be expected with %q, the nearest", d.says(h.name, t), d.Classes[best].Title)
	})
}

// weightiest turns the weightiest of one sign into words. Among weights that
// differ by less than one, what a check asks for comes before what a channel
// gave beside, and then what came first in the run. Of readings on one topic
// the first speaks for all.
func (d *Dictionary) weightiest(all []heard, sign float64, words func(heard) string) []record.Testimony {
	list := slices.Clone(all)
	rank := func(h heard) float64 {
		w := math.Floor(sign * h.weight)
		if d.names[h.name].channel != "" {
			w -= 2
		}
		return w
	}
	slices.SortStableFunc(list, func(a, b heard) int { return cmp.Compare(rank(b), rank(a)) })
	var out []record.Testimony
	said := map[string]bool{}
	for _, h := range list {
		topic := d.names[h.name].topic()
		if sign*h.weight < leastWeight || said[topic] {
			continue
		}
		said[topic] = true
		out = append(out, record.Testimony{
			Reading: d.names[h.name].name, Text: words(h), Weight: math.Round(h.weight*100) / 100,
		})
		if len(out) == mostTestimony {
			break
		}
	}
	return out
}

// topic is a title without its round. What one channel gave beside is one topic
// however it is called, for it tells one thing: that a supply is there, or not.
func (n known) topic() string {
	if n.channel != "" {
		return "channel " + n.channel
	}
	title, _, _ := strings.Cut(n.title, " (")
	return title
}

// says names a reading with its value.
func (d *Dictionary) says(i int, t *trial) string {
	n := d.names[i]
	return n.title + ": " + n.words(t.s.seen[n.name])
}

// saysFor sets a value beside what good units give.
func (d *Dictionary) saysFor(i, class int, t *trial) string {
	n := d.names[i]
	good := d.good()
	switch {
	case good < 0:
		return d.says(i, t)
	case class == good:
		return d.says(i, t) + ", as good units give"
	}
	return d.says(i, t) + "; good units give " + n.usually(good)
}

// saysAgainst sets a value beside what the class gives.
func (d *Dictionary) saysAgainst(i, class int, t *trial) string {
	n := d.names[i]
	o := t.s.seen[n.name]
	usual := n.usual[class]
	if o.kind == estimate && !usual.isEmpty() && o.value >= usual.low && o.value <= usual.high {
		return d.says(i, t) + ", seldom with this fault"
	}
	who := "with this fault "
	if class == d.good() {
		who = "good units give "
	}
	return d.says(i, t) + "; " + who + n.usually(class)
}

// good is the class of the good units, -1 where there is none.
func (d *Dictionary) good() int {
	return slices.IndexFunc(d.Classes, func(c Class) bool { return c.Name == Good })
}

// usually is what a class gave, in words.
func (n known) usually(class int) string {
	u := n.usual[class]
	switch {
	case u.isEmpty():
		return "no value"
	case n.text(u.low) == n.text(u.high):
		return n.text(u.low)
	}
	return n.text(u.low) + " to " + n.text(u.high)
}

// words are an observation in words.
func (n known) words(o observation) string {
	switch o.kind {
	case estimate:
		return n.text(o.value)
	case atLeast:
		return "at least " + n.text(o.value)
	case atMost:
		return "at most " + n.text(o.value)
	case passed:
		return "passed"
	case failed:
		return "failed"
	}
	return "not reached"
}

// text is a value with its unit, to three digits.
func (n known) text(x float64) string {
	q, err := record.Value{Value: x, Unit: n.unit}.Quantity()
	if err != nil {
		return fmt.Sprintf("%.3g", x)
	}
	return q.Text(3)
}
