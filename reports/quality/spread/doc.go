// Package spread estimates the standard deviation inside subgroups: values made
// or measured so close together that only what is always there tells them apart.
//
// Capability indices and control charts stand on it. An Estimate comes with the
// degrees of freedom that it is worth, whole for pooled variances, and by
// Patnaik's approximation for ranges.
package spread
