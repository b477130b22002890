package quantity

// Contribution is one input to the uncertainty of a measured value.
// Two contributions with the same Source name the same error and are fully
// correlated; contributions with different sources are independent.
type Contribution struct {
	// Source names the cause, such as "adc1 gain" or "r_div_top tolerance".
	Source string
	// Std is the standard uncertainty of the cause in the cause's own unit
	// (relative causes are pure numbers).
	Std float64
	// Sens is the signed sensitivity: the change of the measured value, in SI,
	// per unit of the cause. Sens*Std is the part's share.
	Sens float64
	// DOF is the degrees of freedom; 0 means infinite (a Type B bound).
	DOF float64
	// Dist is the distribution assumed: "normal", "uniform", "triangular", "t".
	Dist string
}

// Bound says how a value stands to the true one.
type Bound int8

const (
	// Exact: the value is an estimate with an uncertainty.
	Exact Bound = 0
	// AtLeast: the input was saturated or the search ended; the true value is
	// at or above this one.
	AtLeast Bound = 1
	// AtMost: the true value is at or below this one.
	AtMost Bound = -1
)

// Measured is a value with the contributions to its uncertainty.
type Measured struct {
	Quantity
	Parts []Contribution
	Bound Bound
}
