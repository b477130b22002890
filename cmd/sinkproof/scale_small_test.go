//go:build !study

package main

// scales is the size that is quick to make.
func scales() []int { return []int{10_000} }
