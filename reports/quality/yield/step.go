package yield

import "math"

// Step is what one step of the line did to its units.
type Step struct {
	In        int // units that came in
	FirstPass int // passed at the first time of asking
	FinalPass int // passed in the end, rework included
}

// Tested returns the step of a station that counts failures instead: so many
// units tested, failed at first, and failed for good.
func Tested(units, failedFirst, failedFinal int) Step {
	return Step{In: units, FirstPass: units - failedFirst, FinalPass: units - failedFinal}
}

func (s Step) valid() bool {
	return s.In > 0 && s.FirstPass >= 0 && s.FirstPass <= s.FinalPass && s.FinalPass <= s.In
}

// First returns the first-pass yield.
func (s Step) First() float64 {
	if !s.valid() {
		return math.NaN()
	}
	return float64(s.FirstPass) / float64(s.In)
}

// Final returns the final yield, rework included.
func (s Step) Final() float64 {
	if !s.valid() {
		return math.NaN()
	}
	return float64(s.FinalPass) / float64(s.In)
}

// Rolled returns the rolled throughput yield of steps in a row: the product of
// their first-pass yields. NaN for no step.
func Rolled(steps []Step) float64 {
	if len(steps) == 0 {
		return math.NaN()
	}
	product := 1.0
	for _, s := range steps {
		product *= s.First()
	}
	return product
}

// Normalized returns the yield of the mean step: the root of the rolled yield of
// as many steps.
func Normalized(rolled float64, steps int) float64 {
	if steps < 1 || !(rolled >= 0 && rolled <= 1) {
		return math.NaN()
	}
	return math.Pow(rolled, 1/float64(steps))
}

// Overall returns the final yield of the whole line: what was never scrapped,
// over what came into the first step. NaN for no step and when more is scrapped
// than came in.
func Overall(steps []Step) float64 {
	if len(steps) == 0 {
		return math.NaN()
	}
	scrapped := 0
	for _, s := range steps {
		if !s.valid() {
			return math.NaN()
		}
		scrapped += s.In - s.FinalPass
	}
	if scrapped > steps[0].In {
		return math.NaN()
	}
	return float64(steps[0].In-scrapped) / float64(steps[0].In)
}

// FaultsPerUnit returns the mean number of faults of a unit that a rolled yield
// means, if faults fall on units by chance (Poisson): -ln(yield); +Inf for 0.
func FaultsPerUnit(rolled float64) float64 {
	if !(rolled >= 0 && rolled <= 1) {
		return math.NaN()
	}
	return math.Abs(math.Log(rolled)) // not -0 for 1
}
