package sampling

// Switching is the history of a supplier's lots of one product, as far as the
// switching rules of ISO 2859-1:1999, clause 9, ask for it. Its zero value is a
// new supplier: normal inspection, nothing seen.
//
// The wording of the rules was not read in a printed copy. The window of five
// lots starts empty after each change, and the score counts on normal
// inspection only.
type Switching struct {
	Severity Severity
	Score    int // on normal inspection: the way to reduced

	window   []bool // accepted or not, on normal: the last five at most
	accepted int    // in a row, on tightened
	rejected int    // altogether, since tightened began
}

// Judged is a lot on original inspection; resubmitted ones do not count.
type Judged struct {
	Accepted bool
	Accept   int  // acceptance number of its plan
	Tighter  bool // it would also have been accepted one limit tighter; asked for from Accept 2 on
	Steady   bool // production is steady, and reduced inspection wanted
}

// reducedFrom is the score from which reduced inspection may begin.
const reducedFrom = 30

// Next takes a lot, which was inspected under s.Severity, and changes to the
// severity of the next lot. A discontinued supplier stays so until Resume.
func (s *Switching) Next(j Judged) {
	switch s.Severity {
	case Normal:
		s.normal(j)
	case Tightened:
		s.tightened(j)
	case Reduced:
		if !j.Accepted || !j.Steady {
			s.change(Normal)
		}
	}
}

// normal: two of five or fewer successive lots rejected tighten; a score of 30
// allows reduced inspection.
func (s *Switching) normal(j Judged) {
	s.Score = s.after(j)
	s.window = append(s.window, j.Accepted)
	if len(s.window) > 5 {
		s.window = s.window[1:]
	}
	rejected := 0
	for _, ok := range s.window {
		if !ok {
			rejected++
		}
	}
	switch {
	case rejected >= 2:
		s.change(Tightened)
	case s.Score >= reducedFrom && j.Steady:
		s.change(Reduced)
	}
}

// after returns the score after a lot on normal inspection. With Accept 2 or more
// a lot that passes one limit tighter counts 3; with 0 or 1 an accepted lot
// counts 2. Anything else starts again from 0.
func (s *Switching) after(j Judged) int {
	switch {
	case j.Accept >= 2 && j.Accepted && j.Tighter:
		return s.Score + 3
	case j.Accept < 2 && j.Accepted:
		return s.Score + 2
	}
	return 0
}

// tightened: five in a row accepted return to normal; five rejected altogether
// discontinue.
func (s *Switching) tightened(j Judged) {
	if j.Accepted {
		if s.accepted++; s.accepted >= 5 {
			s.change(Normal)
		}
		return
	}
	s.accepted = 0
	if s.rejected++; s.rejected >= 5 {
		s.change(Discontinued)
	}
}

// change begins another severity with nothing seen.
func (s *Switching) change(to Severity) { *s = Switching{Severity: to} }

// Resume begins tightened inspection after a discontinued supplier has acted.
func (s *Switching) Resume() {
	if s.Severity == Discontinued {
		s.change(Tightened)
	}
}

// Replay returns the severity under which each lot was inspected, the score
// after each, and the severity of the next lot, from a history of lots. It ends
// at the lot that discontinues.
func Replay(start Severity, lots []Judged) (used []Severity, scores []int, next Severity) {
	s := Switching{Severity: start}
	for _, j := range lots {
		if s.Severity == Discontinued {
			break
		}
		used = append(used, s.Severity)
		reached := s.after(j)
		s.Next(j)
		if s.Severity != Reduced || used[len(used)-1] == Reduced {
			reached = s.Score
		} // else: the score that allowed reduced inspection, before it is forgotten
		scores = append(scores, reached)
	}
	return used, scores, s.Severity
}
