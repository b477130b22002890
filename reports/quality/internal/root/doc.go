// Package root finds where a monotone function crosses a level: the numeric
// inversion behind quantiles, exact intervals and plans.
//
// A bracket is an interval at whose ends the function lies on different sides
// of the level. Everything here keeps a bracket, so that it cannot run away.
package root
