package scenarios

import (
	"slices"
	"time"

	"sinkproof/bench"
)

// RelayLog collects the moves of a rig for the record. It is handed to the
// bench as its observer when the rig is opened, and to every run on it. The
// zero value is ready. It belongs to the rig's loop and is not for concurrent
// use.
type RelayLog struct {
	// condition is the setting that the run is leading the rig to.
	condition string
	on        []string // the energised coils, sorted
	patterned []pattern
	notices   []bench.Notice
}

// Moved implements bench.Observer.
func (l *RelayLog) Moved(m bench.Move) {
	n := len(l.patterned)
	if n == 0 || l.patterned[n-1].at != m.At {
		l.close()
		l.patterned = append(l.patterned, pattern{at: m.At})
		n++
	}
	p := &l.patterned[n-1]
	i, is := slices.BinarySearch(l.on, m.Name)
	if m.On {
		p.on = append(p.on, m.Name)
	} else {
		p.off = append(p.off, m.Name)
	}
	switch {
	case m.On && !is:
		l.on = slices.Insert(l.on, i, m.Name)
	case !m.On && is:
		l.on = slices.Delete(l.on, i, i+1)
	}
}

// close notes the coils that the last pattern has left energised.
func (l *RelayLog) close() {
	if n := len(l.patterned); n > 0 {
		l.patterned[n-1].coils = append([]string(nil), l.on...)
	}
}

// Noticed implements bench.Observer.
func (l *RelayLog) Noticed(n bench.Notice) { l.notices = append(l.notices, n) }

// patterns takes the moves that were collected, one pattern for each instant
// at which coils changed.
func (l *RelayLog) patterns() []pattern {
	l.close()
	all := l.patterned
	l.patterned = nil
	return all
}

// guardEvents takes the notices that were collected.
func (l *RelayLog) guardEvents() []bench.Notice {
	n := l.notices
	l.notices = nil
	return n
}

// pattern is the coils after one write.
type pattern struct {
	at             time.Duration
	on, off, coils []string
}
