package chart

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzParseRule: every name is a rule that prints as it was read, or an error.
func FuzzParseRule(f *testing.F) {
	f.Add("beyond-limits")
	f.Add("")
	f.Add("Beyond-Limits")
	f.Fuzz(func(t *testing.T, name string) {
		r, err := ParseRule(name)
		if err != nil {
			require.ErrorContains(t, err, "no run rule")
			return
		}
		require.Equal(t, name, r.String())
	})
}

// FuzzBroken: no series breaks a rule outside itself, and a longer series breaks
// it where the shorter did: what is past does not depend on what comes.
func FuzzBroken(f *testing.F) {
	f.Add([]byte("AAAAAAAAAAAAAAAAA"))
	f.Add([]byte("AZAZAZAZAZAZAZAZA"))
	f.Add([]byte(strings.Repeat("M", 20)))
	f.Fuzz(func(t *testing.T, raw []byte) {
		z := make([]float64, min(len(raw), 300))
		for i := range z {
			z[i] = (float64(raw[i]) - 128) / 32
		}
		for r := BeyondLimits; r < ruleCount; r++ {
			whole := r.Broken(z, z)
			half := r.Broken(z[:len(z)/2], z[:len(z)/2])
			require.LessOrEqual(t, len(half), len(whole))
			require.True(t, slices.Equal(half, whole[:len(half)]), r.String())
			if len(whole) > len(half) {
				require.Greater(t, whole[len(half)], len(z)/2, r.String())
			}
		}
	})
}
