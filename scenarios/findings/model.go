package findings

import (
	"math"
	"slices"
)

// The weights of what is assumed before anything is seen. Chosen by the
// logarithmic score on units that the counts did not see.
const (
	// leanToAll and leanToLess, in units: how much a class leans to what all
	// classes give, for a code alone, and, for a code under its parents', to
	// what is known with fewer parents.
	leanToAll  = 1.0
	leanToLess = 2.0
	// leanToOthers is the share, of what a code under its parents' leans to,
	// of what the other classes give under those. Most of it: then a chain of
	// names that are out of the ordinary because one is counts once.
	leanToOthers = 0.9
	// leanToNothing is the share of what no class gives.
	leanToNothing = 0.1
)

// model holds the logarithms of the probabilities of codes.
type model struct {
	parents
	classes  int
	sizes    []int
	contexts [][]uint16
	// alone is by name, class and code; under has the first parent's code in
	// front, within the context of both parents.
	alone, under, within [][]float32
}

// estimate turns counts into a model.
func (k *counts) estimate() *model {
	m := &model{parents: k.parents, classes: len(k.units), sizes: k.sizes, contexts: k.contexts}
	for i, n := range k.sizes {
		under := k.merged(i)
		alone := k.smoothAlone(sumTo(under, m.classes*n), n)
		m.alone = append(m.alone, logs(alone))
		under = k.smooth(under, n, func(int) []float64 { return alone })
		m.under = append(m.under, logs(under))
		width := m.classes * n
		m.within = append(m.within, logs(k.smooth(k.seen[i], n, func(block int) []float64 {
			first := int(k.contexts[i][block] >> 8)
			return under[first*width : (first+1)*width]
		})))
	}
	return m
}

// sumTo adds up the blocks of a table.
func sumTo(table []float64, width int) []float64 {
	out := make([]float64, width)
	for i, x := range table {
		out[i%width] += x
	}
	return out
}

// smoothAlone turns counts by class and code into probabilities.
func (k *counts) smoothAlone(seen []float64, n int) []float64 {
	all := k.pooled(seen, n)
	out := make([]float64, len(seen))
	for at, x := range seen {
		base := (all[at%n] + 1/float64(n)) / 2
		out[at] = (x + leanToAll*base) / (k.units[at/n] + leanToAll)
	}
	return out
}

// pooled is the probability of each code where every class is equally likely,
// mixed with the even one; the even one where nothing was seen.
func (k *counts) pooled(seen []float64, n int) []float64 {
	out := make([]float64, n)
	total := 0.0
	for at, x := range seen {
		if units := k.units[at/n]; units > 0 {
			out[at%n] += x / units
			total += x / units
		}
	}
	even := 1 / float64(n)
	for j := range out {
		if total == 0 {
			out[j] = even
			continue
		}
		out[j] = (1-leanToNothing)*out[j]/total + leanToNothing*even
	}
	return out
}

// smooth turns counts by block, class and code into probabilities. less gives
// for a block what is known with fewer parents.
func (k *counts) smooth(seen []float64, n int, less func(block int) []float64) []float64 {
	width := len(k.units) * n
	out := make([]float64, len(seen))
	for from := 0; from < len(seen); from += width {
		block := seen[from : from+width]
		all, few := k.pooled(block, n), less(from/width)
		for class := range k.units {
			own := block[class*n : (class+1)*n]
			total := 0.0
			for _, x := range own {
				total += x
			}
			for j, x := range own {
				base := leanToOthers*all[j] + (1-leanToOthers)*few[class*n+j]
				out[from+class*n+j] = (x + leanToLess*base) / (total + leanToLess)
			}
		}
	}
	return out
}

func logs(p []float64) []float32 {
	out := make([]float32, len(p))
	for i, x := range p {
		out[i] = float32(math.Log(x))
	}
	return out
}

// unknown is the code of what a run that was broken off does not say.
const unknown = 255

// likelihoods returns the logarithm of the likelihood of codes under each
// class.
func (m *model) likelihoods(codes []uint8) []float64 {
	out := make([]float64, m.classes)
	for i, n := range m.sizes {
		if codes[i] == unknown {
			continue
		}
		table := m.table(i, codes)
		for class := range out {
			out[class] += float64(table[class*n+int(codes[i])])
		}
	}
	return out
}

// table returns the probabilities of the codes of a name by class, under as
// many of its parents' codes as are known and were seen together.
func (m *model) table(i int, codes []uint8) []float32 {
	width := m.classes * m.sizes[i]
	first, second := m.first[i], m.second[i]
	if first != noParent && codes[first] == unknown {
		return m.alone[i]
	}
	if second == noParent || codes[second] != unknown {
		if at, ok := slices.BinarySearch(m.contexts[i], m.contextOf(i, codes)); ok {
			return m.within[i][at*width : (at+1)*width]
		}
	}
	at := 0
	if first != noParent {
		at = int(codes[first])
	}
	return m.under[i][at*width : (at+1)*width]
}
