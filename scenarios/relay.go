package scenarios

import (
	"maps"
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
	on        map[string]bool
	moves     []bench.Move
	notices   []bench.Notice
}

// Moved implements bench.Observer.
func (l *RelayLog) Moved(m bench.Move) {
	if l.on == nil {
		l.on = map[string]bool{}
	}
	l.on[m.Name] = m.On
	l.moves = append(l.moves, m)
}

// Noticed implements bench.Observer.
func (l *RelayLog) Noticed(n bench.Notice) { l.notices = append(l.notices, n) }

// patterns takes the moves that were collected, one pattern for each instant
// at which coils changed.
func (l *RelayLog) patterns() []pattern {
	var all []pattern
	if len(l.moves) == 0 {
		return nil
	}
	before := maps.Clone(l.on)
	for _, m := range slices.Backward(l.moves) {
		before[m.Name] = !m.On
	}
	for i, m := range l.moves {
		if n := len(all); n == 0 || all[n-1].at != m.At {
			all = append(all, pattern{at: m.At})
		}
		p := &all[len(all)-1]
		before[m.Name] = m.On
		if m.On {
			p.on = append(p.on, m.Name)
		} else {
			p.off = append(p.off, m.Name)
		}
		if i+1 == len(l.moves) || l.moves[i+1].At != m.At {
			p.coils = energised(before)
		}
	}
	l.moves = nil
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

func energised(on map[string]bool) []string {
	var names []string
	for name, is := range on {
		if is {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}
