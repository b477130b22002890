package qualification

import (
	"fmt"
	"slices"
	"strings"
)

// Tested is a run of a board of an order, as it was made.
type Tested struct {
	Serial string
	Nest   int
	// Day is the calendar's, Seq the place in the ledger.
	Day string
	Seq int64
	// Judged tells that the bench could tell; a gauge run that it could not is made
	// again in its turn.
	Judged bool
}

// Followed is how the runs kept to an order.
type Followed struct {
	// Turns counts those of the order, Made those that were tested.
	Turns, Made int
	// OutOfTurn counts runs that would have to move for each nest to be in order,
	// Elsewhere those in another nest, Further runs of the gauge boards beyond it.
	OutOfTurn, Elsewhere, Further int
	// Days says where the days of the order were not kept apart.
	Days []string
	// First is the first run out of turn or elsewhere; empty for none.
	First string
}

// Kept tells that every run so far was as ordered.
func (f Followed) Kept() bool {
	return f.OutOfTurn == 0 && f.Elsewhere == 0 && f.Further == 0 && len(f.Days) == 0
}

// Complete tells that every turn was made.
func (f Followed) Complete() bool { return f.Made == f.Turns }

// Words say how the runs kept to the order.
func (f Followed) Words() string {
	var parts []string
	add := func(n int, one, many string) {
		if n == 1 {
			parts = append(parts, "1 "+one)
		} else if n > 1 {
			parts = append(parts, fmt.Sprintf("%d %s", n, many))
		}
	}
	add(f.OutOfTurn, "run out of turn", "runs out of turn")
	add(f.Elsewhere, "run in another nest", "runs in another nest")
	add(f.Further, "run of a gauge board beyond the order", "runs of gauge boards beyond the order")
	parts = append(parts, f.Days...)
	said := "followed"
	if len(parts) > 0 {
		said = "not followed: " + strings.Join(parts, ", ")
		if f.First != "" {
			said += "; the first is " + f.First
		}
	}
	if !f.Complete() {
		said += fmt.Sprintf("; %d of %d turns are not tested yet", f.Turns-f.Made, f.Turns)
	}
	return said
}

// Follow holds runs, in the order of the ledger, against an order. Of a board its
// first run counts: a retest has no turn. Nests run side by side, so each is held
// against its own turns.
func Follow(turns []Turn, runs []Tested) Followed {
	f := Followed{Turns: len(turns)}
	// Turns that are left, in order: of a board, or of a gauge board in a nest.
	wait, many := map[string][]int{}, map[string]bool{}
	for _, t := range turns {
		_, seen := many[t.Serial]
		many[t.Serial] = seen
	}
	at := func(serial string, nest int) string {
		if many[serial] {
			serial += fmt.Sprintf("\n%d", nest)
		}
		return serial
	}
	for i, t := range turns {
		wait[at(t.Serial, t.Nest)] = append(wait[at(t.Serial, t.Nest)], i)
	}
	made := map[int][]int{} // by nest, the turns in the order in which they were made
	dates, ordered := map[int][]string{}, map[string][]int{}
	for _, r := range runs {
		left := wait[at(r.Serial, r.Nest)]
		switch {
		case many[r.Serial] && !r.Judged:
			continue
		case many[r.Serial] && len(left) == 0:
			f.Further++
			continue
		case len(left) == 0:
			continue
		}
		i := left[0]
		wait[at(r.Serial, r.Nest)] = left[1:]
		t := turns[i]
		f.Made++
		if r.Nest != t.Nest {
			f.Elsewhere++
			f.note(t, r)
			continue
		}
		made[t.Nest] = append(made[t.Nest], i)
		if !slices.Contains(dates[t.Day], r.Day) {
			dates[t.Day] = append(dates[t.Day], r.Day)
		}
		if !slices.Contains(ordered[r.Day], t.Day) {
			ordered[r.Day] = append(ordered[r.Day], t.Day)
		}
	}
	f.turns(turns, made)
	f.days(dates, ordered)
	return f
}

func (f *Followed) note(t Turn, r Tested) {
	if f.First == "" {
		f.First = fmt.Sprintf("%s, tested in nest %d on %s", t, r.Nest, r.Day)
	}
}

// turns counts, nest by nest, the runs that would have to move: all but those of
// the longest subsequence that is in order.
func (f *Followed) turns(turns []Turn, made map[int][]int) {
	first := len(turns)
	for _, list := range made {
		var tails []int // the least last turn of an ordered subsequence of each length
		for k, i := range list {
			at, _ := slices.BinarySearch(tails, i)
			if at == len(tails) {
				tails = append(tails, i)
			} else {
				tails[at] = i
			}
			if k > 0 && i < list[k-1] {
				first = min(first, i)
			}
		}
		f.OutOfTurn += len(list) - len(tails)
	}
	if f.First == "" && f.OutOfTurn > 0 && first < len(turns) {
		f.First = turns[first].String()
	}
}

// days says where one date saw two days of the order, or one day took two dates.
func (f *Followed) days(dates map[int][]string, ordered map[string][]int) {
	for _, date := range sortedKeys(ordered) {
		if list := ordered[date]; len(list) > 1 {
			slices.Sort(list)
			f.Days = append(f.Days, fmt.Sprintf("days %s of the order on %s", joined(list), date))
		}
	}
	for _, day := range sortedKeys(dates) {
		if list := dates[day]; len(list) > 1 {
			slices.Sort(list)
			f.Days = append(f.Days, fmt.Sprintf("day %d of the order on %s", day, strings.Join(list, " and ")))
		}
	}
}

func joined(list []int) string {
	var words []string
	for _, v := range list {
		words = append(words, fmt.Sprint(v))
	}
	return strings.Join(words, " and ")
}

func sortedKeys[K int | string, V any](m map[K]V) []K {
	var keys []K
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
