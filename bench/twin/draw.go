package twin

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strings"

	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
)

// stream returns the random numbers for one purpose. The names are hashed with
// their lengths, so that ("a", "bc") and ("ab", "c") differ.
func stream(seed uint64, names ...string) *rand.Rand {
	h := fnv.New128a()
	var n [8]byte
	binary.LittleEndian.PutUint64(n[:], seed)
	h.Write(n[:])
	for _, name := range names {
		binary.LittleEndian.PutUint64(n[:], uint64(len(name)))
		h.Write(n[:])
		h.Write([]byte(name))
	}
	sum := h.Sum(nil)
	return rand.New(rand.NewPCG(binary.LittleEndian.Uint64(sum), binary.LittleEndian.Uint64(sum[8:])))
}

// drawer draws the figures of one unit by the laws of its product. Each has a
// stream of its own, named by its purpose.
type drawer struct {
	seed    uint64
	serial  string
	product *product.Product
}

// draw draws a parameter within its tolerance.
func (d drawer) draw(purpose, parameter string, v wiring.Toleranced) float64 {
	return d.product.Spread(parameter).At(v, d.share(purpose, parameter))
}

// share draws the share of all units that lie below this one. A parameter
// that hangs on another takes part of its normal score from it (Gaussian
// copula: Nelsen, An Introduction to Copulas, 2nd edition, 2.3).
func (d drawer) share(purpose, parameter string) float64 {
	own := unitStream(d.seed, d.serial, purpose).Float64()
	first, correlation, hangs := d.product.Partner(parameter)
	if !hangs {
		return own
	}
	other := purposeBeside(first, purpose)
	if other == purpose {
		return own // the first of two parts of one name
	}
	score := correlation*product.Score(unitStream(d.seed, d.serial, other).Float64()) +
		math.Sqrt(1-correlation*correlation)*product.Score(own)
	return product.Share(score)
}

// purposeBeside names the stream of the parameter on which the draw for a
// purpose hangs: that of the same pin, where a board has one at each. Of two
// parts of one name, the one at CC2 hangs on the one at CC1.
func purposeBeside(parameter, purpose string) string {
	kind, doubled := strings.CutPrefix(parameter, "terminations.")
	switch {
	case doubled && kind != "toggle":
		if strings.HasSuffix(purpose, " cc2") && !strings.HasPrefix(purpose, kind) {
			return kind + " cc2"
		}
		return kind + " cc1"
	case parameter == "cell.volts":
		return "cell"
	case parameter == "cell.resistance":
		return "cell resistance"
	}
	_, attribute, _ := strings.Cut(parameter, ".")
	for _, x := range [][2]string{
		{"capacitance", "bulk"}, {"fast_current", "fast"}, {"lockout_start", "start"}, {"lockout_stop", "stop"},
		{"trickle_ratio", "trickle"}, {"trickle_threshold", "threshold"}, {"end_ratio", "end"}, {"soft_start", "soft start"},
		{"reverse_leakage", "reverse"}, {"current", "lamp"},
	} {
		if attribute == x[0] {
			return x[1]
		}
	}
	return attribute
}

// within draws a value uniformly in its tolerance interval.
func within(r *rand.Rand, v wiring.Toleranced) float64 {
	return v.Nominal.SI + spread(r, v.HalfWidth())
}

// spread draws uniformly between -half and +half.
func spread(r *rand.Rand, half float64) float64 { return half * (2*r.Float64() - 1) }

// between draws uniformly between two values.
func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

// linear and logarithmic place a severity between two values.
func linear(s, barely, grossly float64) float64 { return barely + s*(grossly-barely) }

func logarithmic(s, barely, grossly float64) float64 {
	return barely * math.Pow(grossly/barely, s)
}
