package normality

import "math"

// AndersonDarling tests normality with mean and spread estimated from the
// sample. Statistic is A² without adjustment; P goes by the adjusted one,
// A²(1 + 0.75/n + 2.25/n²). Domain: at least 8 values that are not all alike.
//
// Source of P: Stephens, in D'Agostino and Stephens, Goodness-of-Fit
// Techniques (1986), table 4.9, in four branches. Above an adjusted A² of 10 it
// is constant at 3.7e-24, where the last branch ends.
func AndersonDarling(data []float64) (Result, error) {
	x, m, err := sorted(data, 8)
	if err != nil {
		return Result{}, err
	}
	below, above := tails(x, m)
	n := float64(len(x))
	sum := 0.0
	for i := range x {
		sum += float64(2*i+1) * (math.Log(below[i]) + math.Log(above[len(x)-1-i]))
	}
	a := -n - sum/n
	return Result{Statistic: a, P: stephens(Adjusted(a, len(x)))}, nil
}

// Adjusted returns the A² of a sample of n as it would be of a large one.
func Adjusted(a float64, n int) float64 {
	return a * (1 + 0.75/float64(n) + 2.25/float64(n)/float64(n))
}

func stephens(a float64) float64 {
	switch {
	case a < 0.2:
		return 1 - math.Exp(-13.436+101.14*a-223.73*a*a)
	case a < 0.34:
		return 1 - math.Exp(-8.318+42.796*a-59.938*a*a)
	case a < 0.6:
		return math.Exp(0.9177 - 4.279*a - 1.38*a*a)
	case a < 10:
		return math.Exp(1.2937 - 5.709*a + 0.0186*a*a)
	}
	return 3.7e-24
}

// Lilliefors tests normality by the largest distance between the sample's
// distribution function and the normal one with the sample's mean and spread.
// Domain: at least 5 values that are not all alike.
//
// Source of P: Dallal and Wilkinson, The American Statistician 40 (1986) 294;
// above 0.1 by Stephens' modified statistic, JASA 69 (1974) 730, in the
// polynomials that R's nortest 1.0-4 uses.
func Lilliefors(data []float64) (Result, error) {
	x, m, err := sorted(data, 5)
	if err != nil {
		return Result{}, err
	}
	below, _ := tails(x, m)
	n, d := float64(len(x)), 0.0
	for i, p := range below {
		d = math.Max(d, math.Max(float64(i+1)/n-p, p-float64(i)/n))
	}
	return Result{Statistic: d, P: dallalWilkinson(d, n)}, nil
}

func dallalWilkinson(d, n float64) float64 {
	k, m := d, n
	if n > 100 {
		k, m = d*math.Pow(n/100, 0.49), 100
	}
	p := math.Exp(-7.01256*k*k*(m+2.78019) + 2.99587*k*math.Sqrt(m+2.78019) - 0.122119 + 0.974598/math.Sqrt(m) + 1.67997/m)
	if p <= 0.1 {
		return p
	}
	s := (math.Sqrt(n) - 0.01 + 0.85/math.Sqrt(n)) * d
	switch {
	case s <= 0.302:
		return 1
	case s <= 0.5:
		return polynomial(s, 2.76773, -19.828315, 80.709644, -138.55152, 81.218052)
	case s <= 0.9:
		return polynomial(s, -4.901232, 40.662806, -97.490286, 94.029866, -32.355711)
	case s <= 1.31:
		return polynomial(s, 6.198765, -19.558097, 23.186922, -12.234627, 2.423045)
	}
	return 0
}

// polynomial evaluates c[0] + c[1] x + c[2] x² + ...
func polynomial(x float64, c ...float64) float64 {
	v := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*x + c[i]
	}
	return v
}
