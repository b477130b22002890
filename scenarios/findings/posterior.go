package findings

import (
	"fmt"
	"math"
	"slices"
)

// Priors are the probabilities before a unit is looked at. They need not add
// up to one; only their ratios count.
type Priors struct {
	// Class is by the classes of the dictionary.
	Class []float64
	// None is that of a fault that the dictionary does not know.
	None float64
	// Text says where they come from.
	Text string
}

// priorOfNone is the prior of a fault that the dictionary does not know. Common
// practice, no source.
const priorOfNone = 0.02

// Equal gives every class the same prior, beside a small one for none of the
// known.
func (d *Dictionary) Equal() Priors {
	n := len(d.Classes)
	p := Priors{
		Class: make([]float64, n), None: priorOfNone,
		Text: fmt.Sprintf("the same for each of %d kinds of unit, %.0f %% for none of the known faults", n, 100*priorOfNone),
	}
	for i := range p.Class {
		p.Class[i] = (1 - priorOfNone) / float64(n)
	}
	return p
}

// posterior is Bayes' rule: by class, the last for none of the known.
//
// The classes share what the strangers leave by their likelihoods. A stranger
// is told by the surprise alone, for nothing else is known of it.
func (d *Dictionary) posterior(like []float64, p Priors) []float64 {
	n := len(d.Classes)
	out := make([]float64, n+1)
	sum, prior := 0.0, 0.0
	top := slices.Max(like)
	for i := range n {
		out[i] = math.Exp(d.exponent*(like[i]-top)) * p.Class[i]
		sum += out[i]
		prior += p.Class[i]
	}
	odds := math.Exp(d.strangerSlope*d.surprise(like, nobody)+d.strangerBase) * p.None / prior
	out[n] = 1
	if !math.IsInf(odds, 1) {
		out[n] = odds / (1 + odds)
	}
	for i := range n {
		out[i] *= (1 - out[n]) / sum
	}
	return out
}
