package law

import "math"

// stirlingError returns ln n! - ln( sqrt(2 pi n) (n/e)^n ), which loses no
// digits where the difference of logarithms would lose many.
//
// Method: C. Loader, Fast and Accurate Computation of Binomial Probabilities
// (2000): the asymptotic series from 16 on, the definition below.
func stirlingError(n float64) float64 {
	if n < 16 {
		lg, _ := math.Lgamma(n + 1)
		return lg - (n+0.5)*math.Log(n) + n - 0.5*math.Log(2*math.Pi)
	}
	n2 := n * n
	return (1.0/12 - (1.0/360-(1.0/1260-(1.0/1680-1.0/1188/n2)/n2)/n2)/n2) / n
}

// deviance returns x ln(x/m) + m - x without cancellation near x = m.
// Method: Loader (2000), bd0.
func deviance(x, m float64) float64 {
	if math.Abs(x-m) >= 0.1*(x+m) {
		return x*math.Log(x/m) + m - x
	}
	v := (x - m) / (x + m)
	sum, term := (x-m)*v, 2*x*v
	for j := 1; j < 1000; j++ {
		term *= v * v
		next := sum + term/float64(2*j+1)
		if next == sum {
			break
		}
		sum = next
	}
	return sum
}

// binomialMass is the probability of k successes in n at p, q = 1 - p given
// apart so that neither loses digits.
func binomialMass(k, n, p, q float64) float64 {
	switch {
	case k < 0 || k > n:
		return 0
	case p == 0 || q == 0:
		if (p == 0 && k == 0) || (q == 0 && k == n) {
			return 1
		}
		return 0
	case k == 0:
		return math.Exp(n * logOf(q, p))
	case k == n:
		return math.Exp(n * logOf(p, q))
	}
	e := stirlingError(n) - stirlingError(k) - stirlingError(n-k) - deviance(k, n*p) - deviance(n-k, n*q)
	return math.Exp(e) * math.Sqrt(n/(2*math.Pi*k*(n-k)))
}

// logOf returns ln p, from its complement q when that is the small one.
func logOf(p, q float64) float64 {
	if q < 0.1 {
		return math.Log1p(-q)
	}
	return math.Log(p)
}
