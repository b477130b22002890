package twin

import (
	"math"
	"time"
)

// never is an instant that does not come.
const never = time.Duration(math.MaxInt64)

// actor is something that acts by itself at an instant.
type actor interface{ Due(now time.Duration) }

// queue holds the next instant of every actor: a heap over a fixed set of
// slots, so that setting an instant allocates nothing. Slots that are due at
// the same instant act in the order of their numbers.
type queue struct {
	at     []time.Duration // by slot
	actors []actor         // by slot
	heap   []int32         // slots that are set, the earliest first
	where  []int32         // by slot: its place in the heap, -1 when not set
	first  time.Duration   // the earliest instant, or never
}

// timer is one slot of the queue.
type timer struct {
	q    *queue
	slot int32
}

// add makes a slot for an actor.
func (q *queue) add(a actor) timer {
	q.at = append(q.at, never)
	q.actors = append(q.actors, a)
	q.where = append(q.where, -1)
	q.keepFirst()
	return timer{q, int32(len(q.at) - 1)}
}

// next returns the earliest instant, or never.
func (q *queue) next() time.Duration { return q.first }

// keepFirst ends every change: the earliest instant is asked for far more often.
func (q *queue) keepFirst() {
	q.first = never
	if len(q.heap) > 0 {
		q.first = q.at[q.heap[0]]
	}
}

// pop takes the earliest slot out.
func (q *queue) pop() actor {
	slot := q.heap[0]
	q.remove(slot)
	return q.actors[slot]
}

// Set asks for the actor's Due at an instant.
func (t timer) Set(at time.Duration) {
	q := t.q
	q.at[t.slot] = at
	if q.where[t.slot] < 0 {
		q.where[t.slot] = int32(len(q.heap))
		q.heap = append(q.heap, t.slot)
	}
	q.up(int(q.where[t.slot]))
	q.down(int(q.where[t.slot]))
	q.keepFirst()
}

// Stop withdraws it.
func (t timer) Stop() {
	if t.q.where[t.slot] >= 0 {
		t.q.remove(t.slot)
	}
}

// set tells whether an instant is set.
func (t timer) set() bool { return t.q.where[t.slot] >= 0 }

func (q *queue) remove(slot int32) {
	i, last := int(q.where[slot]), len(q.heap)-1
	q.swap(i, last)
	q.heap = q.heap[:last]
	q.where[slot] = -1
	if i < last {
		q.up(i)
		q.down(i)
	}
	q.keepFirst()
}

func (q *queue) less(i, j int) bool {
	a, b := q.heap[i], q.heap[j]
	if q.at[a] != q.at[b] {
		return q.at[a] < q.at[b]
	}
	return a < b
}

func (q *queue) swap(i, j int) {
	q.heap[i], q.heap[j] = q.heap[j], q.heap[i]
	q.where[q.heap[i]], q.where[q.heap[j]] = int32(i), int32(j)
}

func (q *queue) up(i int) {
	for i > 0 {
		parent := (i - 1) / 2
		if !q.less(i, parent) {
			return
		}
		q.swap(i, parent)
		i = parent
	}
}

func (q *queue) down(i int) {
	for {
		child := 2*i + 1
		if child >= len(q.heap) {
			return
		}
		if child+1 < len(q.heap) && q.less(child+1, child) {
			child++
		}
		if !q.less(child, i) {
			return
		}
		q.swap(i, child)
		i = child
	}
}
