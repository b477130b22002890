// Package published reads the worked examples and reference values that the
// statistics are tested against.
//
// A case is one example: its input, what a source or a second program says it
// gives, how closely that is known, where it stands, and how it came here. The
// cases lie in the folder testdata of package quality; its README tells the
// conventions. Only tests import this package.
package published
