package findings

import (
	"math"
	"slices"
)

// counts are how often codes were seen under the codes of their parents, by
// class.
type counts struct {
	parents
	sizes []int
	// units is how many there are of each class.
	units []float64
	// contexts are, by name, the pairs of the parents' codes that were seen, in
	// ascending order; see context.
	contexts [][]uint16
	// seen is by name, context, class and code.
	seen [][]float64
}

// context makes one number of the codes of two parents.
func context(first, second uint8) uint16 { return uint16(first)<<8 | uint16(second) }

// contextOf is the context of a name in a row of codes; a parent that is not
// there counts as code 0.
func (p *parents) contextOf(i int, codes []uint8) uint16 {
	var first, second uint8
	if j := p.first[i]; j != noParent {
		first = codes[j]
	}
	if j := p.second[i]; j != noParent {
		second = codes[j]
	}
	return context(first, second)
}

// count counts the rows that are wanted. A unit counts in part for the codes
// beside its own, and for every pairing of those.
func count(c *chart, p parents, wanted func(row) bool) *counts {
	k := &counts{parents: p, sizes: c.sizes, units: make([]float64, c.classes)}
	for i, n := range c.sizes {
		k.contexts = append(k.contexts, c.contexts(p, i))
		k.seen = append(k.seen, make([]float64, len(k.contexts[i])*c.classes*n))
	}
	for _, r := range c.rows {
		if !wanted(r) {
			continue
		}
		k.units[r.class]++
		for i, n := range c.sizes {
			p.each(r, i, func(ctx uint16, code uint8, share float64) {
				at, _ := slices.BinarySearch(k.contexts[i], ctx)
				k.seen[i][(at*c.classes+r.class)*n+int(code)] += share
			})
		}
	}
	return k
}

// contexts lists the pairs of the parents' codes that the rows hold.
func (c *chart) contexts(p parents, i int) []uint16 {
	have := map[uint16]bool{}
	for _, r := range c.rows {
		p.each(r, i, func(ctx uint16, _ uint8, _ float64) { have[ctx] = true })
	}
	list := make([]uint16, 0, len(have))
	for ctx := range have {
		list = append(list, ctx)
	}
	slices.Sort(list)
	return list
}

// each calls do for the code of a name, and for the one beside it, under each
// such code of its parents, with the part of the unit that counts there.
func (p *parents) each(r row, i int, do func(ctx uint16, code uint8, share float64)) {
	own := r.sides(i)
	first, second := r.sides(p.first[i]), r.sides(p.second[i])
	for _, f := range first {
		for _, s := range second {
			for _, o := range own {
				if share := f.share * s.share * o.share; share > 0 {
					do(context(f.code, s.code), o.code, share)
				}
			}
		}
	}
}

// side is a code and the part of a unit that counts for it.
type side struct {
	code  uint8
	share float64
}

// sides are the code of a name and the one beside it; code 0 for no name.
func (r row) sides(i int) [2]side {
	if i == noParent {
		return [2]side{{0, 1}, {0, 0}}
	}
	code, beside := r.codes[i], float64(r.beside[i])
	switch {
	case beside > 0:
		return [2]side{{code, 1 - beside}, {code + 1, beside}}
	case beside < 0:
		return [2]side{{code, 1 + beside}, {code - 1, -beside}}
	}
	return [2]side{{code, 1}, {code, 0}}
}

// merged adds up the counts of a name over the second parent's codes: by the
// first parent's code, class and code.
func (k *counts) merged(i int) []float64 {
	up, width := 1, len(k.units)*k.sizes[i]
	if p := k.first[i]; p != noParent {
		up = k.sizes[p]
	}
	out := make([]float64, up*width)
	for at, ctx := range k.contexts[i] {
		to := out[int(ctx>>8)*width:]
		for j, n := range k.seen[i][at*width : (at+1)*width] {
			to[j] += n
		}
	}
	return out
}

// grind rounds the counts to what a file keeps, so that a dictionary says the
// same before and after it was one.
func (k *counts) grind() {
	for _, seen := range k.seen {
		for i, x := range seen {
			seen[i] = math.Round(x*grain) / grain
		}
	}
}
