// Package normality asks whether a sample may be called normal.
//
// Each test returns a Statistic and its P: the probability of a sample at
// least this far from normal, when it is normal. AndersonDarling looks at the
// tails, ShapiroWilk at the straightness of the probability plot, Lilliefors at
// the largest gap between the sample's and the normal distribution function,
// Grubbs at the one value that lies farthest out.
//
// None takes a sample without spread, and none of them says "normal": a large P
// only says that the sample does not speak against it.
package normality
