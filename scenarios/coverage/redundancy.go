package coverage

import "slices"

// checkResults tells what each question did.
func (s *Study) checkResults() []Check {
	out := make([]Check, len(s.questions))
	for q, x := range s.questions {
		out[q] = Check{Name: x.name, Title: x.title, Kind: x.kind, Rounds: len(x.rounds), Only: []Catch{}, Limits: s.limitCurve(q)}
	}
	for _, t := range s.order {
		alone := make([]int, len(s.questions))
		units := make([]int, len(s.questions))
		for _, sig := range t.first {
			n, asked := t.signatures[sig], s.asked(sig)
			for _, q := range asked {
				units[q] += n
				if len(asked) == 1 {
					alone[q] += n
				}
			}
		}
		for q := range out {
			if t.good() {
				out[q].Good += units[q]
				continue
			}
			out[q].Caught += units[q]
			out[q].Alone += alone[q]
			if alone[q] > 0 {
				out[q].Only = append(out[q].Only, Catch{t.class.Name, units[q], alone[q]})
			}
		}
	}
	return out
}

// limitCurve is what moving the limits of a question does. Interlocks have no
// limits to move.
func (s *Study) limitCurve(q int) []LimitPoint {
	out := []LimitPoint{}
	if s.questions[q].kind == KindInterlock {
		return out
	}
	// A unit whose first passing move is i passes with every move from i on.
	good, faulty, judged := 0, 0, 0
	for _, t := range s.order {
		if t.good() {
			judged += t.units - t.verdicts.none // no limit rejects what has no verdict
		}
	}
	for i, move := range s.moves {
		for _, t := range s.order {
			if t.good() {
				good += t.rooms[q][i]
			} else {
				faulty += t.rooms[q][i]
			}
		}
		out = append(out, LimitPoint{move, judged - good, faulty})
	}
	return out
}

// catches are the distinct ways in which faulty units were caught.
func (s *Study) catches() []set {
	var out []set
	seen := map[set]bool{}
	for _, t := range s.order {
		if t.good() {
			continue
		}
		for _, sig := range t.first {
			if !seen[sig] {
				seen[sig] = true
				out = append(out, sig)
			}
		}
	}
	return out
}

// redundancy finds which checks could go without a unit escaping. Controls and
// interlocks are there for the bench, and are left out of it.
func (s *Study) redundancy(r *Result) {
	r.Redundant, r.Dispensable, r.RedundantRounds = []string{}, []string{}, []string{}
	catches := s.catches()
	needed := make([]bool, len(s.questions))
	neededRound := make([]bool, len(s.checks))
	for _, sig := range catches {
		if asked := s.asked(sig); len(asked) == 1 {
			needed[asked[0]] = true
		}
		if checks := sig.places(); len(checks) == 1 {
			neededRound[checks[0]] = true
		}
	}
	for q, x := range s.questions {
		if x.kind != KindCheck {
			continue
		}
		if !needed[q] {
			r.Redundant = append(r.Redundant, x.name)
			continue
		}
		for _, at := range x.rounds {
			if len(x.rounds) > 1 && !neededRound[at] {
				r.RedundantRounds = append(r.RedundantRounds, s.checks[at])
			}
		}
	}
	for _, q := range s.dispensable(catches, needed) {
		r.Dispensable = append(r.Dispensable, s.questions[q].name)
	}
}

// dispensable takes away one redundant question after the other, the one that
// catches least first, as long as everything that was caught still is. It need
// not be the largest such set: that is a covering problem, and this is its
// greedy answer.
func (s *Study) dispensable(catches []set, needed []bool) []int {
	counts := make([]int, len(s.questions))
	asked := make([][]int, len(catches))
	for i, sig := range catches {
		asked[i] = s.asked(sig)
		for _, q := range asked[i] {
			counts[q]++
		}
	}
	var order, gone []int
	for q, x := range s.questions {
		if x.kind == KindCheck && !needed[q] {
			order = append(order, q)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return counts[a] - counts[b] })
	left := make([]int, len(catches)) // how many questions still catch each
	for i := range catches {
		left[i] = len(asked[i])
	}
	for _, q := range order {
		free := true
		for i := range catches {
			free = free && (left[i] > 1 || !slices.Contains(asked[i], q))
		}
		if !free {
			continue
		}
		gone = append(gone, q)
		for i := range catches {
			if slices.Contains(asked[i], q) {
				left[i]--
			}
		}
	}
	slices.Sort(gone)
	return gone
}
