package findings

import "slices"

// leastLeak is the mean probability from which two classes count as alike: a
// twentieth of what their units get goes to the other.
const leastLeak = 0.05

// Group is a set of classes that this scenario cannot tell apart over part of
// their severity.
type Group struct {
	Classes []Class
	// Leak is the greatest mean probability that units of one of them give to
	// another.
	Leak float64
	// Measure is what would separate most of them by hand, and says itself which
	// it leaves; its Name is empty where no
	// measurement of the list would.
	Measure Measurement
}

// findGroups lists the groups, the first class of the dictionary first.
func (d *Dictionary) findGroups() []Group {
	var out []Group
	done := make([]bool, len(d.Classes))
	for i := range d.Classes {
		if done[i] {
			continue
		}
		members := d.connected(i)
		for _, m := range members {
			done[m] = true
		}
		if len(members) > 1 {
			out = append(out, d.group(members))
		}
	}
	return out
}

// connected lists the classes that a chain of likenesses leads to.
func (d *Dictionary) connected(from int) []int {
	list := []int{from}
	for at := 0; at < len(list); at++ {
		for to := range d.Classes {
			if d.leak(list[at], to) >= leastLeak && !slices.Contains(list, to) {
				list = append(list, to)
			}
		}
	}
	slices.Sort(list)
	return list
}

// leak is the greater of the mean probabilities that two classes give each
// other.
func (d *Dictionary) leak(a, b int) float64 {
	if a == b {
		return 0
	}
	return max(d.leaks[a][b], d.leaks[b][a])
}

func (d *Dictionary) group(members []int) Group {
	var g Group
	var names []string
	for i, m := range members {
		g.Classes = append(g.Classes, d.Classes[m])
		names = append(names, d.Classes[m].Name)
		for _, n := range members[:i] {
			g.Leak = max(g.Leak, d.leak(m, n))
		}
	}
	g.Measure = separating(names)
	return g
}

// Confusion returns the mean probability that units of the first class give to
// the second, when the counts had not seen them; false for a class that the
// dictionary does not have.
func (d *Dictionary) Confusion(from, to string) (float64, bool) {
	find := func(name string) int {
		return slices.IndexFunc(d.Classes, func(c Class) bool { return c.Name == name })
	}
	i, j := find(from), find(to)
	if i < 0 || j < 0 {
		return 0, false
	}
	return d.leaks[i][j], true
}
