package sampling

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
)

// Sample draws n units of a lot without putting any back, and returns them in
// the order in which to test them. The same key draws the same units, in
// whatever order the lot lists them. It wraps ErrPlan where the lot has fewer
// units or names one twice.
//
// Method: the units in the order of their HMAC-SHA-256 (RFC 2104) under the
// key; the first n are drawn. To who does not know the key beforehand every set
// of n units is as likely as every other.
func Sample(key []byte, units []string, n int) ([]string, error) {
	if n < 0 || n > len(units) {
		return nil, fmt.Errorf("draw %d of %d units: %w", n, len(units), ErrPlan)
	}
	type ranked struct {
		unit string
		rank []byte
	}
	list := make([]ranked, len(units))
	for i, u := range units {
		mac := hmac.New(sha256.New, key)
		mac.Write([]byte(u))
		list[i] = ranked{u, mac.Sum(nil)}
	}
	slices.SortFunc(list, func(a, b ranked) int {
		if c := bytes.Compare(a.rank, b.rank); c != 0 {
			return c
		}
		return strings.Compare(a.unit, b.unit)
	})
	drawn := make([]string, 0, n)
	for i, r := range list {
		if i > 0 && r.unit == list[i-1].unit {
			return nil, fmt.Errorf("draw from a lot that names unit %q twice: %w", r.unit, ErrPlan)
		}
		if i < n {
			drawn = append(drawn, r.unit)
		}
	}
	return drawn, nil
}

// TighterAccept returns the acceptance number of the same sample one acceptance
// quality limit tighter, which the switching score asks for (ISO 2859-1:1999,
// 9.3.3). False where the score does not ask, because Accept is below 2, and
// where the standard has no tighter limit for the same sample.
func (d Drawn) TighterAccept(lot int, level Level, aql float64, s Severity) (int, bool) {
	tighter, ok := OneStepTighter(aql)
	if d.Accept < 2 || !ok {
		return 0, false
	}
	other, err := Lookup(lot, level, tighter, s)
	if err != nil || other.N != d.N {
		return 0, false
	}
	return other.Accept, true
}
