package findings

import (
	"cmp"
	"math"
	"slices"

	"sinkproof/reports/record"
)

// Unknown stands for a fault that the dictionary does not know.
const Unknown = "unknown"

// unknownClass is what a person reads of it.
func unknownClass() Class {
	return Class{
		Name: Unknown, Title: "none of the known faults",
		Rework: "The readings fit no fault of the dictionary: look at those that speak for it. Two faults at once do that too.",
	}
}

// Suspect is a class that a unit may be of.
type Suspect struct {
	Class       Class
	Probability float64
	// For and Against are what speaks for the class and against it, the
	// weightiest first.
	For, Against []record.Testimony
	// Alike are the classes of its group, Measure what would tell it from most of
	// them.
	Alike   []Class
	Measure Measurement
}

// Diagnosis is what the readings of a run say of its unit.
type Diagnosis struct {
	// Suspects are the classes, the likeliest first, down to a probability of
	// one in a hundred; at least one.
	Suspects []Suspect
	// Good is the probability of a unit without a fault, whether or not it is
	// among the suspects; 0 where the dictionary has no good units.
	Good float64
	// Priors says where the priors came from.
	Priors string
	// Unseen is how many of the dictionary's names the run did not come to.
	Unseen int
}

// leastProbability is that of the least suspect that is listed.
const leastProbability = 0.01

// Diagnose gives the probability of each class by the readings of a run. A
// run that was broken off (its verdict is none) leaves open what it did not
// come to; in a finished run, that it did not come to something speaks too.
func (d *Dictionary) Diagnose(run record.Run, p Priors) Diagnosis {
	s := SignatureOf(run)
	codes, unseen := d.codes(s, run.Verdict == record.None)
	like := d.model.likelihoods(codes)
	post := d.posterior(like, p)
	out := Diagnosis{Priors: p.Text, Unseen: unseen}
	order := make([]int, len(post))
	for i := range order {
		order[i] = i
		if i < len(d.Classes) && d.Classes[i].Name == Good {
			out.Good = post[i]
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(post[b], post[a]) })
	for rank, i := range order {
		if rank > 0 && post[i] < leastProbability {
			break
		}
		out.Suspects = append(out.Suspects, d.suspect(i, post, &trial{s: s, codes: codes, like: like}))
	}
	return out
}

// trial is a run before the dictionary.
type trial struct {
	s     Signature
	codes []uint8
	like  []float64
}

// codes turns a signature into codes, and counts what it does not have.
func (d *Dictionary) codes(s Signature, broken bool) ([]uint8, int) {
	out := make([]uint8, len(d.names))
	unseen := 0
	for i, n := range d.names {
		o := s.seen[n.name]
		out[i] = uint8(n.code(o))
		if o.kind == absent {
			unseen++
			if broken {
				out[i] = unknown
			}
		}
	}
	return out, unseen
}

func (d *Dictionary) suspect(i int, post []float64, t *trial) Suspect {
	if i == len(d.Classes) {
		return Suspect{Class: unknownClass(), Probability: post[i], For: d.surprises(t)}
	}
	out := Suspect{Class: d.Classes[i], Probability: post[i]}
	out.For, out.Against = d.testimony(i, post, t)
	for _, g := range d.groups {
		if slices.ContainsFunc(g.Classes, func(c Class) bool { return c.Name == out.Class.Name }) {
			out.Alike = slices.DeleteFunc(slices.Clone(g.Classes), func(c Class) bool { return c.Name == out.Class.Name })
			var others []string
			for _, c := range out.Alike {
				others = append(others, c.Name)
			}
			out.Measure = separatingFrom(out.Class.Name, others)
		}
	}
	return out
}

// rivals are the weights of the other classes, against which a class is held:
// half by their probability, so that the nearest rival counts, half alike, so
// that the others do.
func rivals(i int, post []float64) []float64 {
	n := len(post) - 1
	out := make([]float64, n)
	rest := 0.0
	for j := range n {
		if j != i {
			rest += post[j]
		}
	}
	for j := range n {
		if j == i {
			continue
		}
		out[j] = 0.5 / float64(n-1)
		if rest > 0 {
			out[j] += 0.5 * post[j] / rest
		} else {
			out[j] *= 2
		}
	}
	return out
}

// weight is the weight of evidence of one code for a class against its rivals
// (Good 1950, "Probability and the weighing of evidence"), in nats. Each
// reading is weighed alone: what several say together counts once in the
// probability, but is shown with each.
func (d *Dictionary) weight(i, class int, code uint8, rivals []float64) float64 {
	n := d.model.sizes[i]
	table := d.model.alone[i]
	other := 0.0
	for j, w := range rivals {
		other += w * math.Exp(float64(table[j*n+int(code)]))
	}
	return float64(table[class*n+int(code)]) - math.Log(other)
}
