//go:build study

package ledger

// scales adds the size at which the promises are held: some minutes to fill.
func scales() []int { return []int{10_000, 100_000, 1_000_000} }
