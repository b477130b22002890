//go:build !race && study

package main

import (
	"bytes"
	"context"
	"io"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSweepShippedDictionaries: the dictionaries that come with the program are
// byte for byte what would be made now.
func TestSweepShippedDictionaries(t *testing.T) {
	for rig, want := range shippedDictionaries() {
		p, err := load(rig, defaultProduct, defaultScenario, io.Discard)
		require.NoError(t, err)
		data, err := buildDictionary(context.Background(), p, dictionaryUnits, 0, nil)
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, data), "%s: go generate ./cmd/sinkproof makes it again", rig)
	}
}
