package law

import "math"

// Phi returns the probability that a standard normal value is at most z, with
// all digits in the lower tail.
func Phi(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
