package twin

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"math/rand/v2"

	"sinkproof/bench/wiring"
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
