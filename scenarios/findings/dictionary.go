package findings

import "slices"

// Dictionary knows how the signatures of each class of unit are distributed.
// It is not changed after it was made, and may be used by many at once.
type Dictionary struct {
	Classes []Class
	// Units is how many units it was made of.
	Units int
	// Key names what it was made from; whoever keeps dictionaries sets it.
	Key string

	names  []known
	counts *counts
	// exponent on the likelihoods, as calibrated.
	exponent float64
	// ordinary is by class the mean logarithm of the likelihood of its units,
	// spread how far they lie from it.
	ordinary, spread []float64
	// strangerSlope and strangerBase give the logarithm of how much more often
	// a surprise befalls a stranger.
	strangerSlope, strangerBase float64
	// leaks holds by class, and then by class, the mean posterior that units of
	// the first gave to the second when the counts had not seen them.
	leaks [][]float64

	// hash is that of the file that it was read from; empty before it is one.
	hash string

	model  *model
	groups []Group
}

// known is one name that tells the classes apart.
type known struct {
	name string
	label
	coding
	// usual is what each class gave.
	usual []span
}

// finish makes what is not kept in a file.
func (d *Dictionary) finish() {
	d.model = d.counts.estimate()
	d.groups = d.findGroups()
}

// Groups lists the classes that this scenario cannot tell apart over part of
// their severity, by the units of the dictionary that the counts had not seen.
func (d *Dictionary) Groups() []Group { return slices.Clone(d.groups) }

// empty is the span without a value.
func empty() span { return span{1, -1} }

func (s span) isEmpty() bool { return s.low > s.high }
