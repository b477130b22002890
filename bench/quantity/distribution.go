package quantity

import "math"

// Uniform returns the contribution of a cause that lies anywhere within
// ±halfWidth, such as a tolerance: std = a/√3 (JCGM 100:2008, 4.3.7).
func Uniform(source string, halfWidth, sens float64) Contribution {
	return Contribution{Source: source, Std: math.Abs(halfWidth) / math.Sqrt(3), Sens: sens, Dist: "uniform"}
}

// Resolution returns the contribution of rounding to a step, such as the
// least significant bit of a converter: std = step/√12 (JCGM 100:2008,
// F.2.2.1).
func Resolution(source string, step, sens float64) Contribution {
	return Uniform(source, step/2, sens)
}

// Triangular returns the contribution of a cause within ±halfWidth that is
// more likely near the middle: std = a/√6 (JCGM 100:2008, 4.3.9).
func Triangular(source string, halfWidth, sens float64) Contribution {
	return Contribution{Source: source, Std: math.Abs(halfWidth) / math.Sqrt(6), Sens: sens, Dist: "triangular"}
}

// Normal returns the contribution of a cause with the given standard
// uncertainty; dof 0 means infinite.
func Normal(source string, std, sens, dof float64) Contribution {
	return Contribution{Source: source, Std: std, Sens: sens, DOF: dof, Dist: "normal"}
}

// Certificate returns the contribution that a calibration certificate states
// as an expanded uncertainty with its coverage factor (JCGM 100:2008, 4.3.3).
func Certificate(source string, expanded, k, sens float64) Contribution {
	return Normal(source, expanded/k, sens, 0)
}

// Repeat returns the mean of repeated readings and the Type A contribution of
// that mean: std = s/√n with n-1 degrees of freedom (JCGM 100:2008, 4.2.2 and
// 4.2.3).
//
// Special cases: NaN for no readings; a single reading has no contribution
// (std 0), because one reading says nothing about its spread.
func Repeat(source string, readings []float64) (mean float64, c Contribution) {
	n := float64(len(readings))
	sum := 0.0
	for _, x := range readings {
		sum += x
	}
	mean = sum / n
	c = Contribution{Source: source, Sens: 1, Dist: "t"}
	if n < 2 {
		return mean, c
	}
	squares := 0.0
	for _, x := range readings {
		squares += (x - mean) * (x - mean)
	}
	c.Std, c.DOF = math.Sqrt(squares/(n-1)/n), n-1
	return mean, c
}
