package findings

import "math"

// noParent marks a name without a parent, or without a second one.
const noParent = -1

// chart holds the coded observations of the units of a dictionary: a row for
// each unit, with its class, and in it a code for each name.
type chart struct {
	classes int
	// sizes are the numbers of codes of each name.
	sizes []int
	rows  []row
}

type row struct {
	class int
	// part is the share of the units that the row belongs to; see calibrate.
	part  int
	codes []uint8
	// beside is, for each name, the part of the unit that counts for the code
	// beside its own: above it where positive, below where negative.
	beside []float32
}

// parents are the names that each name's code is conditional on; the second
// may be noParent, and both are for the root.
type parents struct{ first, second []int }

// tree returns a parent for each name, such that the sum of the information
// that names share with their parents, given the class, is the greatest
// (Friedman, Geiger and Goldszmidt 1997, "Bayesian network classifiers",
// section 4.1; the spanning tree by Prim's way). The first name is the root.
// The names come back in an order in which each follows its parent.
func (c *chart) tree() (parent, order []int) {
	n := len(c.sizes)
	parent, best := make([]int, n), make([]float64, n)
	joined := make([]bool, n)
	for i := range n {
		parent[i], best[i] = noParent, -1
	}
	for at := 0; at >= 0 && n > 0; {
		joined[at] = true
		order = append(order, at)
		next := -1
		for i := range n {
			if joined[i] {
				continue
			}
			if w := c.shared(at, i); w > best[i] {
				parent[i], best[i] = at, w
			}
			if next < 0 || best[i] > best[next] {
				next = i
			}
		}
		at = next
	}
	return parent, order
}

// leastShared is the information in nats for which a second parent is worth
// its counts.
const leastShared = 0.005

// network gives the names of the tree a second parent where that says more:
// what a class leaves open (whether a supply answers, say) is often settled at
// once for many names (Sahami 1996, "Learning limited dependence Bayesian
// classifiers"). A second parent comes before its name in the order of the
// tree, so nothing goes round in a circle.
func (c *chart) network() parents {
	first, order := c.tree()
	p := parents{first, make([]int, len(first))}
	for at, i := range order {
		p.second[i] = noParent
		best := leastShared
		for _, j := range order[:at] {
			if j == first[i] {
				continue
			}
			if w := c.sharedGiven(j, i, first[i]); w > best {
				best, p.second[i] = w, j
			}
		}
	}
	return p
}

// shared is the mutual information of two names given the class, in nats.
func (c *chart) shared(a, b int) float64 { return c.sharedGiven(a, b, noParent) }

// sharedGiven is the mutual information of two names given the class and a
// third name, in nats.
func (c *chart) sharedGiven(a, b, given int) float64 {
	na, nb, ng := c.sizes[a], c.sizes[b], 1
	if given != noParent {
		ng = c.sizes[given]
	}
	joint := make([]int32, c.classes*ng*na*nb)
	for i := range c.rows {
		r := &c.rows[i]
		g := 0
		if given != noParent {
			g = int(r.codes[given])
		}
		joint[((r.class*ng+g)*na+int(r.codes[a]))*nb+int(r.codes[b])]++
	}
	sum := 0.0
	onlyA, onlyB := make([]int32, na), make([]int32, nb)
	for from := 0; from < len(joint); from += na * nb {
		sum += mutual(joint[from:from+na*nb], onlyA, onlyB)
	}
	return sum / float64(len(c.rows))
}

// mutual is the mutual information of the rows and columns of a table of
// counts, times their sum. onlyA and onlyB are room for the sums.
func mutual(cells, onlyA, onlyB []int32) float64 {
	clear(onlyA)
	clear(onlyB)
	total, nb := int32(0), len(onlyB)
	for i, k := range cells {
		if k > 0 {
			onlyA[i/nb] += k
			onlyB[i%nb] += k
			total += k
		}
	}
	if total == 0 {
		return 0
	}
	sum := 0.0
	for i, k := range cells {
		if k > 0 {
			sum += float64(k) * math.Log(float64(k)*float64(total)/(float64(onlyA[i/nb])*float64(onlyB[i%nb])))
		}
	}
	return sum
}
