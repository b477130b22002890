package root

import "math"

// steps is more than bisection ever needs: the doubles between two bounds are
// fewer than 2^64, and every second step halves the bracket.
const steps = 300

// In returns the x in [low, high] at which the monotone f is zero, as close as
// doubles allow. It returns the end that is nearer to zero when f has the same
// sign at both, and NaN when f is NaN at an end.
//
// Method: false position with the Illinois weighting (Dowell and Jarratt,
// BIT 11 (1971) 168), a bisection in every third step as a floor to its speed.
func In(f func(float64) float64, low, high float64) float64 {
	fl, fh := f(low), f(high)
	if math.IsNaN(fl) || math.IsNaN(fh) {
		return math.NaN()
	}
	if fl == 0 || fh == 0 || (fl < 0) == (fh < 0) {
		if math.Abs(fl) <= math.Abs(fh) {
			return low
		}
		return high
	}
	side := 0
	for i := range steps {
		x := low + (high-low)*(fl/(fl-fh))
		if i%3 == 2 || !(x > low && x < high) {
			x = low + (high-low)/2
		}
		if x <= low || x >= high {
			break
		}
		fx := f(x)
		switch {
		case fx == 0 || math.IsNaN(fx):
			return x
		case (fx < 0) == (fl < 0):
			low, fl = x, fx
			if side == -1 {
				fh /= 2
			}
			side = -1
		default:
			high, fh = x, fx
			if side == 1 {
				fl /= 2
			}
			side = 1
		}
		if high-low <= 2e-16*math.Max(math.Abs(low), math.Abs(high)) {
			break
		}
	}
	return low + (high-low)/2
}

// Beyond returns the zero of the monotone f above low, widening the bracket
// from low by step, doubled each time. It returns +Inf when f keeps its sign up
// to the largest doubles.
func Beyond(f func(float64) float64, low, step float64) float64 {
	fl := f(low)
	for high := low + step; !math.IsInf(high, 0); high += step {
		if fh := f(high); fh == 0 || (fh < 0) != (fl < 0) {
			return In(f, low, high)
		}
		low = high
		step *= 2
	}
	return math.Inf(1)
}

// First returns the smallest whole number from low up to high at which holds
// is true, for a condition that stays true once it is; high+1 if it never is.
func First(holds func(int) bool, low, high int) int {
	for low <= high {
		mid := low + (high-low)/2
		if holds(mid) {
			high = mid - 1
		} else {
			low = mid + 1
		}
	}
	return low
}
