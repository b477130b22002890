//go:build study

package main

// scales are the sizes up to the one at which the promises are held: a quarter of an
// hour and 15 GB of the temporary folder.
func scales() []int { return []int{10_000, 100_000, 1_000_000} }
