//go:build !study

package ledger

// scales are the sizes that are quick to fill.
func scales() []int { return []int{10_000, 100_000} }
