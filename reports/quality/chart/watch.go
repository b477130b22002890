package chart

// watch is a zone rule at work. It is a small value that can be compared, so
// that the watches of several rules together are a state of a Markov chain.
type watch struct {
	rule    Rule
	up, low pattern
}

// pattern remembers the last points on one side: one bit each, the newest
// lowest, or the length of a run.
type pattern uint16

// watch returns the rule with nothing seen yet.
func (r Rule) watch() watch { return watch{rule: r} }

// window is "need of the last size points beyond zone".
type window struct {
	zone       float64
	need, size int
}

// window returns the window of a rule that has one.
func (r Rule) window() (w window, ok bool) {
	switch r {
	case BeyondLimits:
		return window{3, 1, 1}, true
	case TwoOfThree:
		return window{2, 2, 3}, true
	case FourOfFive:
		return window{1, 4, 5}, true
	case EightOnOneSide:
		return window{0, 8, 8}, true
	case NineOnOneSide:
		return window{0, 9, 9}, true
	}
	return window{}, false
}

// see takes the next point and reports whether it completes the pattern.
func (w *watch) see(z float64) bool {
	if n, ok := w.rule.window(); ok {
		up := n.see(&w.up, z > n.zone)
		low := n.see(&w.low, z < -n.zone)
		return up || low
	}
	switch w.rule {
	case FifteenWithin:
		return w.up.run(z > -1 && z < 1, 15)
	case EightBeyond:
		return w.up.run(z > 1 || z < -1, 8)
	}
	return false
}

// see shifts the point into the memory. The points that have left the window of
// the next one are forgotten. Where every point of the window is needed only the
// length of the run counts, which keeps the Markov chain small.
func (n window) see(p *pattern, beyond bool) bool {
	if n.need == n.size {
		return p.run(beyond, pattern(n.size))
	}
	seen := *p << 1
	if beyond {
		seen |= 1
	}
	full := pattern(1)<<n.size - 1
	hit := beyond && seen.ones() >= n.need
	*p = seen & (full >> 1)
	return hit
}

func (p pattern) ones() int {
	count := 0
	for ; p != 0; p &= p - 1 {
		count++
	}
	return count
}

// run counts points in a row; it stops counting where the rule is broken, so
// that a longer run is broken at every further point.
func (p *pattern) run(in bool, n pattern) bool {
	if !in {
		*p = 0
		return false
	}
	if *p < n {
		*p++
	}
	return *p >= n
}
