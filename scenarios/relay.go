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
	coils     []string // the energised ones, sorted
	// at is the instant of the moves in on and off, which make up the next pattern.
	at        time.Duration
	on, off   []string
	patterned []pattern
	notices   []bench.Notice
}

// Moved implements bench.Observer.
func (l *RelayLog) Moved(m bench.Move) {
	if l.at != m.At {
		l.close()
		l.at = m.At
	}
	if m.On {
		l.on = append(l.on, m.Name)
	} else {
		l.off = append(l.off, m.Name)
	}
	switch i, is := slices.BinarySearch(l.coils, m.Name); {
	case m.On && !is:
		l.coils = slices.Insert(l.coils, i, m.Name)
	case !m.On && is:
		l.coils = slices.Delete(l.coils, i, i+1)
	}
}

// close makes a pattern of the moves since the last one. Its names stand in one
// list, cut in three.
func (l *RelayLog) close() {
	if len(l.on)+len(l.off) == 0 {
		return
	}
	names := slices.Concat(l.on, l.off, l.coils)
	cut := func(n int) []string {
		if n == 0 {
			return nil
		}
		head := names[:n:n]
		names = names[n:]
		return head
	}
	l.patterned = append(l.patterned, pattern{at: l.at, on: cut(len(l.on)), off: cut(len(l.off)), coils: cut(len(l.coils))})
	l.on, l.off = l.on[:0], l.off[:0]
}

// Noticed implements bench.Observer.
func (l *RelayLog) Noticed(n bench.Notice) { l.notices = append(l.notices, n) }

// patterns takes the moves that were collected, one pattern for each instant
// at which coils changed. The list is good until the next move.
func (l *RelayLog) patterns() []pattern {
	l.close()
	all := l.patterned
	l.patterned = l.patterned[:0]
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
