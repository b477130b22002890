package qualification

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"sinkproof/reports/quality"
)

// Decision is what follows for the candidate.
type Decision string

// The decisions.
const (
	Qualified    Decision = "qualified"
	NotQualified Decision = "not qualified"
	NotEnough    Decision = "not enough evidence"
	Refused      Decision = "refused"
)

// Qualification is the decision with everything that it rests on.
type Qualification struct {
	Sample
	Decision Decision
	// Reasons are the claims that decided; Changes what would change the
	// decision.
	Reasons, Changes []string
	// Large tells whether the sample has the power asked for, in every claim;
	// More is how many further boards of each side it takes, MoreLots lots.
	Large          bool
	More, MoreLots int
	Rig            Rig
	Design         Design
	Defects        Defects
	Comparisons    []Comparison
}

// ErrNoBoards is the cause when a side has no board.
var ErrNoBoards = errors.New("no board")

// Decide holds a sample against its terms. It wraps ErrNoBoards, or
// quality.ErrSample where a characteristic cannot be compared.
func Decide(s Sample) (Qualification, error) {
	q := Qualification{Sample: s}
	for _, side := range []Side{Candidate, Incumbent} {
		if !slices.ContainsFunc(s.Boards, func(b Board) bool { return b.Side == side }) {
			return q, fmt.Errorf("the %s: %w", side, ErrNoBoards)
		}
	}
	for i := range s.Boards {
		b := &s.Boards[i]
		if len(b.Values) != len(s.Characteristics) {
			return q, fmt.Errorf("board %s has %d values of %d characteristics: %w", b.Serial, len(b.Values), len(s.Characteristics), quality.ErrSample)
		}
	}
	var err error
	q.Rig, q.Design = NewRig(s), NewDesign(s.Boards, s.Terms)
	if q.Defects, err = newDefects(pointers(s.Boards), s.Terms); err != nil {
		return q, err
	}
	if q.Comparisons, err = newComparisons(s); err != nil {
		return q, err
	}
	q.size()
	q.decide()
	return q, nil
}

// size says whether the sample is large enough, and what is missing.
func (q *Qualification) size() {
	have := q.boards()
	q.More = max(0, q.Defects.Needed-have)
	for i := range q.Comparisons {
		c := &q.Comparisons[i]
		missing := max(0, c.Needed-c.Units)
		if c.ByLots {
			q.MoreLots = max(q.MoreLots, missing)
		} else {
			q.More = max(q.More, missing)
		}
	}
	q.Large = q.More == 0 && q.MoreLots == 0
}

// boards is the number of boards of the smaller side.
func (q *Qualification) boards() int { return min(q.Defects.Sides[0].N, q.Defects.Sides[1].N) }

// decide draws the decision from the claims.
func (q *Qualification) decide() {
	refused := append(append([]string{}, q.Rig.Unfit...), q.Design.Confounded...)
	if len(refused) > 0 {
		q.Decision, q.Reasons = Refused, refused
		if len(q.Rig.Unfit) > 0 {
			q.Changes = append(q.Changes, "a gauge study of the rig as it tests boards, within its limits: boards with the bench's cell substitute, in every nest, re-seated, on two days or more; or to leave out the values that the rig cannot tell")
		}
		if len(q.Design.Confounded) > 0 {
			q.Changes = append(q.Changes, fmt.Sprintf("boards of %d lots or more of each side, both sides in every nest on every day, in a drawn order, with the same papers", q.Terms.Lots))
		}
		return
	}
	q.against()
	if len(q.Reasons) > 0 {
		q.Decision = NotQualified
		return
	}
	q.open()
	if len(q.Reasons) > 0 {
		q.Decision = NotEnough
		return
	}
	q.Decision = Qualified
	q.Reasons = []string{fmt.Sprintf("no more bad boards than the incumbent within %s, every characteristic capable, steady and equivalent within its margin", percent(q.Terms.BadMargin))}
	q.Changes = []string{"a later lot with more bad boards, a drift, or margins narrower than those stated"}
}

// against lists the claims that were disproved.
func (q *Qualification) against() {
	d := q.Defects
	if d.Claim == Disproved {
		q.Reasons = append(q.Reasons, fmt.Sprintf("more bad boards than the incumbent: %d of %d against %d of %d (p = %s)",
			d.Sides[0].Bad, d.Sides[0].N, d.Sides[1].Bad, d.Sides[1].N, digits(d.WorseP))+d.mostly())
		q.Changes = append(q.Changes, "the cause of the faults removed, and boards of new lots")
	}
	before := len(q.Reasons)
	q.worst(func(c *Comparison) float64 {
		if c.Steady != Disproved {
			return math.NaN()
		}
		return math.Abs(c.Drifts[Candidate].Difference) / c.Margin
	}, func(c *Comparison) string {
		drift := c.Drifts[Candidate]
		return fmt.Sprintf("%s drifts by %s from the first board to the last (%s to %s), the margin is %s",
			c.Name, Amount(drift.Difference, c.Unit), Amount(drift.Low, c.Unit), Amount(drift.High, c.Unit), Amount(c.Margin, c.Unit))
	})
	q.worst(func(c *Comparison) float64 {
		if c.Alike != Disproved {
			return math.NaN()
		}
		return math.Abs(c.Difference) / c.Margin
	}, func(c *Comparison) string {
		return fmt.Sprintf("%s lies %s from the incumbent's (%s to %s), the margin is %s",
			c.Name, Amount(c.Difference, c.Unit), Amount(c.Low, c.Unit), Amount(c.High, c.Unit), Amount(c.Margin, c.Unit))
	})
	q.worst(func(c *Comparison) float64 {
		if c.Capable != Disproved {
			return math.NaN()
		}
		return -c.Sides[Candidate].Ppk.Value
	}, func(c *Comparison) string {
		return fmt.Sprintf("%s is not capable: Ppk %s, %s is asked for", c.Name, digits(c.Sides[Candidate].Ppk.Value), digits(q.Terms.Ppk))
	})
	if len(q.Reasons) > before {
		q.Changes = append(q.Changes, "a process that stays where it is, or a wider margin, stated before new boards are tested")
	}
}

// worst gives the reason of the comparison with the largest measure, and names
// the others that have one.
func (q *Qualification) worst(measure func(*Comparison) float64, says func(*Comparison) string) {
	var worst *Comparison
	var others []string
	for i := range q.Comparisons {
		c := &q.Comparisons[i]
		switch m := measure(c); {
		case math.IsNaN(m):
		case worst == nil:
			worst = c
		case m > measure(worst):
			others = append(others, worst.Name)
			worst = c
		default:
			others = append(others, c.Name)
		}
	}
	if worst == nil {
		return
	}
	reason := says(worst)
	if len(others) > 0 {
		reason += " (likewise " + strings.Join(others, ", ") + ")"
	}
	q.Reasons = append(q.Reasons, reason)
}

// mostly names the fault that makes the difference.
func (d Defects) mostly() string {
	for _, k := range d.Kinds {
		if k.Count[Candidate] > k.Count[Incumbent] {
			return fmt.Sprintf("; %d of them: %s", k.Count[Candidate], k.Name)
		}
	}
	return ""
}

// open lists the claims that are neither proved nor disproved.
func (q *Qualification) open() {
	d := q.Defects
	if d.Claim == Open {
		q.Reasons = append(q.Reasons, fmt.Sprintf("bad boards: %d of %d against %d of %d; the candidate may have up to %s more, %s are allowed",
			d.Sides[0].Bad, d.Sides[0].N, d.Sides[1].Bad, d.Sides[1].N, percent(d.DifferenceRange.High), percent(q.Terms.BadMargin)))
		if d.Clustered {
			q.Reasons = append(q.Reasons, "bad boards stand together in few lots; what counts is how many lots are so, and there are few")
		}
		q.more("board", q.boards(), max(d.Needed, d.Seen), d.Seen > 0, "the claim about bad boards")
	}
	for i := range q.Comparisons {
		c := &q.Comparisons[i]
		if c.Alike == Open {
			q.Reasons = append(q.Reasons, fmt.Sprintf("%s: %s from the incumbent's, perhaps %s to %s; the margin is %s (p = %s)",
				c.Name, Amount(c.Difference, c.Unit), Amount(c.Low, c.Unit), Amount(c.High, c.Unit), Amount(c.Margin, c.Unit), digits(c.EquivalentP)))
			q.more(c.unit(), c.Units, c.Seen, c.Seen > 0, "the mean of "+c.Name)
		}
		if c.Steady == Open {
			q.Reasons = append(q.Reasons, fmt.Sprintf("%s drifts by %s, and it is not shown that this stays within %s", c.Name, Amount(c.Drifts[0].Difference, c.Unit), Amount(c.Margin, c.Unit)))
			q.Changes = append(q.Changes, "boards of more lots to show how far "+c.Name+" drifts")
		}
		if c.Capable == Open {
			q.Reasons = append(q.Reasons, fmt.Sprintf("%s: Ppk %s, proved is %s; %s is asked for", c.Name, digits(c.Sides[0].Ppk.Value), digits(c.PpkLow), digits(q.Terms.Ppk)))
			q.more("board", c.Sides[0].N, c.CapableNeeded, c.CapableNeeded > 0, "the capability of "+c.Name)
		}
	}
}

// more says how many units a claim still takes.
func (q *Qualification) more(unit string, have, needed int, possible bool, claim string) {
	switch {
	case !possible:
		q.Changes = append(q.Changes, "nothing but another result: while the figures stay, no number of "+unit+"s settles "+claim)
	case needed > have:
		q.Changes = append(q.Changes, fmt.Sprintf("about %d %ss more of each side for %s, if the figures stay", needed-have, unit, claim))
	default:
		q.Changes = append(q.Changes, fmt.Sprintf("more %ss of each side for %s", unit, claim))
	}
}

// percent prints a share.
func percent(share float64) string {
	if math.IsNaN(share) {
		return "an unknown share"
	}
	return digits(100*share) + " %"
}
