package root

import "math"

// steps is more than is ever needed for a zero that is not 0 itself: bisection
// alone would take some 60.
const steps = 200

// In returns the x in [low, high] at which the monotone f is zero, as close as
// doubles allow. It returns the end that is nearer to zero when f has the same
// sign at both, and NaN when f is NaN at an end.
//
// Method: inverse quadratic interpolation where it is safe, bisection where
// not (Chandrupatla, Advances in Engineering Software 28 (1997) 145).
func In(f func(float64) float64, low, high float64) float64 {
	a, b := low, high
	fa, fb := f(a), f(b)
	if math.IsNaN(fa) || math.IsNaN(fb) {
		return math.NaN()
	}
	if fa == 0 || fb == 0 || (fa < 0) == (fb < 0) {
		return nearer(a, fa, b, fb)
	}
	t := 0.5
	for range steps {
		x := a + t*(b-a)
		fx := f(x)
		c, fc := a, fa // the point that leaves the bracket
		if (fx < 0) != (fa < 0) {
			c, fc, b, fb = b, fb, a, fa
		}
		a, fa = x, fx
		best := nearer(a, fa, b, fb)
		least := 2.3e-16 * math.Abs(best) / math.Abs(b-a)
		if fx == 0 || math.IsNaN(fx) || least > 0.5 || a == b {
			return best
		}
		t = math.Min(math.Max(step(a, fa, b, fb, c, fc), least), 1-least)
	}
	return nearer(a, fa, b, fb)
}

func nearer(a, fa, b, fb float64) float64 {
	if math.Abs(fa) <= math.Abs(fb) {
		return a
	}
	return b
}

// step returns the next place in the bracket a..b as a share of its width: the
// one that a parabola through the inverse suggests, if it is straight enough.
func step(a, fa, b, fb, c, fc float64) float64 {
	xi, phi := (a-b)/(c-b), (fa-fb)/(fc-fb)
	if phi*phi < xi && (1-phi)*(1-phi) < 1-xi {
		return fa/(fb-fa)*fc/(fb-fc) + (c-a)/(b-a)*fa/(fc-fa)*fb/(fc-fb)
	}
	return 0.5
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
