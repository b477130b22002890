package circuit

import "math"

// average returns the mean voltage of a local node between two instants of the
// present run.
func (sol *solution) average(node int32, from, to float64) float64 {
	from = max(from, sol.since)
	if to <= from {
		return sol.sample(node, from)
	}
	sum := sol.offset[node]
	if from >= sol.rest {
		return sum
	}
	if from != sol.from || to != sol.to {
		sol.span(from, to)
	}
	row, part := sol.b[int(node)*sol.m:], sol.part[:len(sol.parts)]
	for i, j := range sol.parts {
		sum += row[j] * part[i]
	}
	return sum
}

// span finds the mean of every mode between two instants. What follows the one
// before begins where that ended, so that one instant is evaluated for each.
func (sol *solution) span(from, to float64) {
	if sol.at == from {
		copy(sol.early, sol.decay)
	} else {
		sol.decays(from-sol.since, sol.early)
	}
	sol.arrive(to)
	sol.from, sol.to = from, to
	sol.parts, sol.part = sol.parts[:0], sol.part[:0]
	rates := sol.rates
	early, decay, slow, acts, amp := sol.early[:len(rates)], sol.decay[:len(rates)], sol.slow[:len(rates)], sol.acts[:len(rates)], sol.amp[:len(rates)]
	for q, rate := range rates {
		if a, b := early[q], decay[q]; a != 0 || b != 0 {
			sol.parts = append(sol.parts, acts[q])
			sol.part = append(sol.part, amp[q]*meanDecay(a, b, rate, to-from, slow[q]))
		}
	}
}

// fewDecays is how much of a relaxation a span must hold for the mean to be
// taken from the difference of its ends; below, that difference is rounding.
const fewDecays = 0.1

// meanDecay is the mean of a decay over a span between its values at both ends.
// For y' = -rate y it is (a-b)/(rate span). Within a short span it is the sum
// of Euler and Maclaurin, whose next term is (rate span)^6/30240.
func meanDecay(a, b, rate, span float64, slow bool) float64 {
	x := rate * span
	if math.Abs(x) < fewDecays {
		return (a+b)/2 + (b-a)*x*(1-x*x/60)/12
	}
	if slow {
		// y = (e^(-rate t) - 1)/rate: the decay is 1 + rate y.
		return ((a-b)/span - 1) / rate
	}
	return (a - b) / x
}
