// Package chiptest holds what the tests of chip drivers share.
//
// A *clock* is virtual: only Sleep and the bus advance it. A *wire* is the part
// of a bus that every fake chip has: it answers to one address and takes its
// bits' time. A *cut* is a bus that fails at one transfer, in one of three
// ways, so that a test can prove what a driver does wherever the bus dies.
//
// The fake chips themselves live in the test files of their drivers.
package chiptest
