package quality

import (
	"errors"
	"fmt"
	"math"
)

// ErrSample is returned, wrapped, for data that a statistic is not defined
// on: too few values, values that are not finite, no spread where one is
// divided by.
var ErrSample = errors.New("sample not usable")

// Interval is a range of values, both ends included. An end that is open is
// infinite; an interval that does not exist has NaN at both ends.
type Interval struct {
	Low, High float64
}

// Undefined is the interval that does not exist.
func Undefined() Interval { return Interval{math.NaN(), math.NaN()} }

// Defined reports whether both ends are numbers (infinities included).
func (i Interval) Defined() bool { return !math.IsNaN(i.Low) && !math.IsNaN(i.High) }

// Contains reports whether v lies in the interval; false for an undefined one.
func (i Interval) Contains(v float64) bool { return v >= i.Low && v <= i.High }

// Probability reports whether p is strictly between 0 and 1, as every
// confidence, coverage and risk must be.
func Probability(p float64) bool { return p > 0 && p < 1 }

// Usable returns an error that wraps ErrSample when data holds fewer than
// least values, or a value that is not finite, named by its place from 1.
func Usable(data []float64, least int) error {
	if len(data) < least {
		return fmt.Errorf("%d values, at least %d are needed: %w", len(data), least, ErrSample)
	}
	for i, v := range data {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("value %d is %v: %w", i+1, v, ErrSample)
		}
	}
	return nil
}
