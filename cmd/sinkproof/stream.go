package main

import (
	"crypto/sha256"
	"encoding/binary"
	"io"
	"math/rand/v2"
	"time"
)

// stream returns the randomness of a simulated bench for one purpose. Streams
// are named, so that a draw added to one shifts no other.
func stream(seed uint64, names ...string) io.Reader {
	h := sha256.New()
	_ = binary.Write(h, binary.LittleEndian, seed) // a hash takes every write
	for _, n := range names {
		_ = binary.Write(h, binary.LittleEndian, uint32(len(n)))
		io.WriteString(h, n)
	}
	return rand.NewChaCha8([32]byte(h.Sum(nil)))
}

// shuffle puts a list into a drawn order.
func shuffle(random io.Reader, list []string) {
	randomOf(random).Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
}

// firstMorning is when the simulated benches begin to work: a Monday, 06:00.
// Records of the twin take their wall clock from it and the seed.
func firstMorning(seed uint64) time.Time {
	return time.Date(2026, time.January, 5, 6, 0, 0, 0, time.UTC).AddDate(0, 0, int(seed%365))
}

// randomOf draws numbers by the first bytes of a stream.
func randomOf(random io.Reader) *rand.Rand {
	var word [8]byte
	_, _ = random.Read(word[:]) // a stream never ends
	return rand.New(rand.NewPCG(binary.LittleEndian.Uint64(word[:]), 0))
}
