//go:build !race && study

package twin

import (
	"math/rand/v2"
	"testing"
)

// fewSettings: a condition with fewer has few.
const fewSettings = 12

// Every setting with a good unit of every product and with every fault. Faults
// are compared at both moments in the conditions of few settings, and at a drawn
// one of them in each setting of the others.
func TestSweepEveryPairAgainstNgspice(t *testing.T) {
	const few, pairs = 20, sweptSettings * (3 + 20) // of the settings, those of conditions with few
	againstNgspice(t, extent{
		pairs: pairs, circuits: 2*3*sweptSettings + 2*few*20 + (sweptSettings-few)*20, rising: 250, share: 0.9,
		faulty: func(_, _, of int, draw *rand.Rand) []string {
			if of < fewSettings {
				return moments()
			}
			i := draw.IntN(len(moments()))
			return moments()[i : i+1]
		},
	})
}
