//go:build !race && study

package main

import (
	"bytes"
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSweepShippedDictionary: the dictionary that comes with the program is
// byte for byte what would be made now.
func TestSweepShippedDictionary(t *testing.T) {
	data, err := buildDictionary(context.Background(), shippedPapers(t), dictionaryUnits, 0, nil)
	require.NoError(t, err)
	require.True(t, bytes.Equal(shippedDictionary, data), "go generate ./cmd/sinkproof makes it again")
}
