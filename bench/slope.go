package bench

import "math"

// pollJitter is the least standard uncertainty of the instant of a sample, in
// seconds: the end of a conversion is found by polling, every 36 µs plus a
// transfer of about 115 µs at 400 kHz, and read by another; it lies within
// 200 µs (uniform).
const pollJitter = 200e-6 / 2 / 1.732

// slope is the rate at which a voltage changes where it passes a level.
type slope struct {
	perSecond float64
	std       float64
	dof       float64
	n         int
}

// slopeAt fits a parabola through points (a line through fewer than five, or
// through points of two instants only) by least squares and returns its slope
// where it passes level.
//
// Method: orthogonal polynomials in t - mean(t), so that the coefficients are
// independent: 1, t, t² - (S3/S2) t - S2/n with Sk = sum of t^k. The standard
// uncertainty has the residuals and, because few residuals say little, the
// jitter of the instants. Domain: two points at different instants; NaN below.
func slopeAt(c curve, level float64) slope {
	return c.fit(level, len(c.t) >= 5)
}

// lineAt fits a line.
func lineAt(c curve) slope { return c.fit(0, false) }

func (c curve) fit(level float64, parabola bool) slope {
	ts, vs := c.t, c.v
	n := len(ts)
	if n < 2 {
		return slope{perSecond: math.NaN(), n: n}
	}
	tm, vm := mean(ts), mean(vs)
	var s2, s3 float64
	for _, t := range ts {
		d := t - tm
		s2 += d * d
		s3 += d * d * d
	}
	skew, m := s3/s2, s2/float64(n)
	var c1, c2, q2 float64
	for i, t := range ts {
		d := t - tm
		q := d*d - skew*d - m
		c1 += d * vs[i]
		c2 += q * vs[i]
		q2 += q * q
	}
	c1 /= s2
	free := n - 2
	// Points of two instants leave nothing but rounding for the bend.
	if parabola = parabola && q2 > 1e-9*s2*s2/float64(n); parabola {
		c2 /= q2
		free--
	} else {
		c2, q2 = 0, math.Inf(1)
	}
	sum := 0.0
	for i, t := range ts {
		d := t - tm
		e := vs[i] - vm - c1*d - c2*(d*d-skew*d-m)
		sum += e * e
	}
	bend := 0.0
	if parabola {
		bend = 2*passing(c1, c2, skew, m, level-vm) - skew
	}
	out := slope{perSecond: c1 + c2*bend, n: n, dof: float64(max(free, 1))}
	variance := out.perSecond * out.perSecond * c.jitter * c.jitter
	if free > 0 {
		variance += sum / float64(free)
	}
	out.std = math.Sqrt(variance * (1/s2 + bend*bend/q2))
	return out
}

// passing is where c1*d + c2*(d² - skew*d - m) reaches a height, by Newton's
// method from the middle. A parabola that does not reach it gives the last
// step, which is near its top.
func passing(c1, c2, skew, m, height float64) float64 {
	d := 0.0
	for range 6 {
		f := c1*d + c2*(d*d-skew*d-m) - height
		g := c1 + c2*(2*d-skew)
		if g == 0 {
			break
		}
		d -= f / g
	}
	return d
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
