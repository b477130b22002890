package qualification

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/compare"
)

// world is what a sample is drawn from.
type world struct {
	boards, lots int
	// shift, drift and lotSD act on the candidate's first characteristic, in its
	// standard deviations; lotSD on both sides.
	shift, drift, lotSD float64
	bad                 [2]int
	// gaugeSD is the rig's spread, dayShift what a day adds to all values.
	gaugeSD float64
	blocked bool
	seed    uint64
}

// usual is a sample of boards that are alike, in plenty.
func usual() world { return world{boards: 600, lots: 6, gaugeSD: 0.05, bad: [2]int{3, 3}, seed: 1} }

// place is one of two nests on one of two days.
func place(i int) Place {
	return Place{Bench: "bench 3", Nest: fmt.Sprint(1 + i%2), Day: fmt.Sprintf("2026-05-0%d", 4+i/2%2), Papers: "1"}
}

// draw makes a sample with two characteristics: a current between limits, five
// standard deviations away, and a voltage with one limit.
func (w world) draw() Sample {
	r := rand.New(rand.NewPCG(w.seed, 7))
	s := Sample{Terms: DefaultTerms(), Characteristics: []Characteristic{
		{Name: "current", Unit: "A", Limits: capability.Between(0.35, 0.45)},
		{Name: "drop", Unit: "V", Limits: capability.AtMost(0.5)},
	}}
	const sd = 0.01
	for _, side := range []Side{Candidate, Incumbent} {
		for i := range w.boards {
			lot := i * w.lots / w.boards
			b := Board{Serial: fmt.Sprintf("%c-%d", "CI"[side], i+1), Side: side, Lot: fmt.Sprint("L", lot), Good: true}
			v := 0.4 + sd*r.NormFloat64()
			if side == Candidate {
				v += sd * (w.shift + w.drift*float64(i)/float64(w.boards-1))
			}
			v += sd * w.lotSD * rand.New(rand.NewPCG(w.seed, uint64(100*lot)+uint64(side))).NormFloat64()
			b.Values = []float64{v, 0.2 + 0.02*r.NormFloat64()}
			s.Boards = append(s.Boards, b)
		}
		for n := range w.bad[side] {
			b := &s.Boards[int(side)*w.boards+(n*37)%w.boards]
			b.Good, b.Kinds = false, []string{"one resistor for two pins"}
		}
	}
	if !w.blocked {
		r.Shuffle(len(s.Boards), func(i, j int) { s.Boards[i], s.Boards[j] = s.Boards[j], s.Boards[i] })
	}
	for i := range s.Boards {
		s.Boards[i].Tested = int64(i)
		at := place(i)
		s.Boards[i].Place = &at
	}
	for part := range 6 {
		at := []float64{0.4 + sd*r.NormFloat64(), 0.2 + 0.02*r.NormFloat64()}
		for i := range 8 {
			s.Gauge = append(s.Gauge, Trial{Part: fmt.Sprint("G", part), Place: place(i),
				Values: []float64{at[0] + w.gaugeSD*sd*r.NormFloat64(), at[1] + 0.001*r.NormFloat64()}})
		}
	}
	return s
}

func decided(t *testing.T, s Sample) Qualification {
	t.Helper()
	q, err := Decide(s)
	require.NoError(t, err)
	return q
}

func TestDecisions(t *testing.T) {
	change := func(f func(*world)) world {
		w := usual()
		f(&w)
		return w
	}
	for name, c := range map[string]struct {
		world
		decision Decision
		reason   string
	}{
		"alike, in plenty":            {usual(), Qualified, "no more bad boards"},
		"a few boards":                {change(func(w *world) { w.boards, w.bad = 60, [2]int{0, 0} }), NotEnough, "bad boards: 0 of 60"},
		"more bad boards":             {change(func(w *world) { w.bad[0] = 18 }), NotQualified, "18 of them: one resistor"},
		"fewer bad boards":            {change(func(w *world) { w.bad = [2]int{3, 18} }), Qualified, ""},
		"a drift":                     {change(func(w *world) { w.drift = 2.5 }), NotQualified, "current drifts by"},
		"a drift within the margin":   {change(func(w *world) { w.drift = 0.3 }), Qualified, ""},
		"a shift":                     {change(func(w *world) { w.shift = 1.6 }), NotQualified, "current lies"},
		"not capable":                 {change(func(w *world) { w.shift = -4 }), NotQualified, "current is not capable"},
		"a rig that spreads":          {change(func(w *world) { w.gaugeSD = 1 }), Refused, "current: the rig's own spread"},
		"two lots":                    {change(func(w *world) { w.lots = 2 }), Refused, "2 lots of the candidate"},
		"one side after the other":    {change(func(w *world) { w.blocked = true }), Refused, "not interleaved"},
		"lots that differ, three":     {change(func(w *world) { w.lots, w.lotSD = 3, 1 }), NotEnough, "current"},
		"lots that differ, in plenty": {change(func(w *world) { w.lots, w.lotSD = 60, 0.5 }), Qualified, ""},
	} {
		t.Run(name, func(t *testing.T) {
			q := decided(t, c.draw())
			require.Equal(t, c.decision, q.Decision, "%v", q.Reasons)
			require.NotEmpty(t, q.Changes, "what would change it")
			require.Contains(t, strings.Join(q.Reasons, "; "), c.reason)
		})
	}
}

// What differs between nests, days, benches, papers or lots must not pass for a
// supplier.
func TestConfoundedIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Board)
		says   string
	}{
		"a nest of its own":  {func(b *Board) { b.Place.Nest = fmt.Sprint(1 + int(b.Side)) }, "bench 3 nest 1 saw 600 boards of the candidate and none of the incumbent"},
		"a day of its own":   {func(b *Board) { b.Place.Day = fmt.Sprint("day ", b.Side) }, "day day candidate saw"},
		"a bench of its own": {func(b *Board) { b.Place.Bench = fmt.Sprint("bench ", b.Side) }, "bench bench candidate saw"},
		"other papers":       {func(b *Board) { b.Place.Papers = b.Side.String() }, "papers candidate saw"},
		"lots unknown":       {func(b *Board) { b.Lot = "" }, "without their lot"},
		"mostly one nest": {func(b *Board) {
			b.Place.Nest = fmt.Sprint(1 + int(b.Side))
			if b.Tested%4 == 0 {
				b.Place.Nest = fmt.Sprint(2 - int(b.Side))
			}
		}, "spread over nests differently"},
	} {
		t.Run(name, func(t *testing.T) {
			s := usual().draw()
			for i := range s.Boards {
				c.change(&s.Boards[i])
			}
			q := decided(t, s)
			require.Equal(t, Refused, q.Decision)
			require.Contains(t, strings.Join(q.Design.Confounded, "; "), c.says)
		})
	}
}

func TestARigIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Sample)
		says   string
	}{
		"no study":       {func(s *Sample) { s.Gauge = nil }, "no gauge study"},
		"one day":        {func(s *Sample) { s.each(func(x *Trial) { x.Place.Day = "2026-05-04" }) }, "on one day"},
		"an own cell":    {func(s *Sample) { s.Gauge[0].OwnCell = true }, "a cell of their own"},
		"a nest left":    {func(s *Sample) { s.Boards[0].Place.Nest = "3" }, "no gauge study was made: bench 3 nest 3"},
		"few boards":     {func(s *Sample) { s.Gauge = s.Gauge[:16] }, "has 2 boards"},
		"no re-seat":     {func(s *Sample) { s.seatings(func(n int) bool { return n < 1 }) }, "no re-seat"},
		"unbalanced":     {func(s *Sample) { s.Gauge = s.Gauge[1:] }, "not balanced"},
		"a value absent": {func(s *Sample) { s.Gauge[3].Values[0] = math.NaN() }, "no value of board G0"},
	} {
		t.Run(name, func(t *testing.T) {
			s := usual().draw()
			c.change(&s)
			q := decided(t, s)
			require.Equal(t, Refused, q.Decision)
			require.Contains(t, strings.Join(q.Rig.Unfit, "; "), c.says)
		})
	}
}

func (s *Sample) each(f func(*Trial)) {
	for i := range s.Gauge {
		f(&s.Gauge[i])
	}
}

// seatings keeps the trials whose number at their place and board is wanted.
func (s *Sample) seatings(keep func(n int) bool) {
	seen := map[string]int{}
	s.Gauge = slices.DeleteFunc(s.Gauge, func(x Trial) bool {
		name := x.Part + x.Place.appraiser()
		seen[name]++
		return !keep(seen[name] - 1)
	})
}

// A claim's number of boards is that at which the power reaches what was asked
// for, by the comparison's own power.
func TestNumbersOfBoardsReachThePower(t *testing.T) {
	w := usual()
	q := decided(t, w.draw())
	for w.seed < 40 && (q.Comparisons[0].ByLots || q.Comparisons[1].ByLots) {
		w.seed++ // to one whose lots are as alike as its boards
		q = decided(t, w.draw())
	}
	d := q.Defects
	p := 3.5 / 601
	require.GreaterOrEqual(t, compare.FractionsPower(float64(d.Needed), p, p+0.02, 0.1), 0.9)
	require.Less(t, compare.FractionsPower(float64(d.Needed-1), p, p+0.02, 0.1), 0.9)
	c := q.Comparisons[0]
	require.False(t, c.ByLots)
	sd := math.Sqrt((math.Pow(c.Sides[0].SDOverall, 2) + math.Pow(c.Sides[1].SDOverall, 2)) / 2)
	require.GreaterOrEqual(t, compare.EquivalencePower(float64(c.Needed), 0, c.Margin, sd, 0.025), 0.9)
	require.Less(t, compare.EquivalencePower(float64(c.Needed-1), 0, c.Margin, sd, 0.025), 0.9)
	require.Equal(t, max(0, d.Needed-w.boards), q.More, "the claim about bad boards takes most")
	require.Equal(t, q.More == 0, q.Large)
	require.InDelta(t, 0.01, c.Margin, 1e-12, "a tenth of the width")
	require.InDelta(t, 0.2*(0.5-q.Comparisons[1].Sides[1].Mean), q.Comparisons[1].Margin, 1e-12, "a fifth of the room")
}

// 3 % of faults are found once in 99 boards with 95 % (1 - 0.97^99 = 0.951).
func TestBoardsToSeeAFault(t *testing.T) {
	w := usual()
	w.boards, w.bad = 300, [2]int{9, 0}
	q := decided(t, w.draw())
	require.Equal(t, []Kind{{Name: "one resistor for two pins", Count: [2]int{9, 0}, P: q.Defects.Kinds[0].P, Enough: 99}}, q.Defects.Kinds)
	f, err := compare.Fisher(compare.Counts{Bad: 9, Good: 291}, compare.Counts{Good: 300}, 0.9)
	require.NoError(t, err)
	require.Equal(t, f.PGreater, q.Defects.WorseP)
}

// Bad boards of one lot are one accident, however many they are.
func TestBadBoardsInOneLot(t *testing.T) {
	w := usual()
	w.bad = [2]int{0, 0}
	s := w.draw()
	bad := 0
	for i := range s.Boards {
		if b := &s.Boards[i]; b.Side == Candidate && b.Lot == "L2" && bad < 20 {
			b.Good, b.Kinds = false, []string{"torn track"}
			bad++
		}
	}
	q := decided(t, s)
	require.True(t, q.Defects.Clustered)
	require.Greater(t, q.Defects.WorseP, 0.05)
	require.Less(t, q.Defects.PGreater, 1e-5, "boards for themselves would have said so")
	require.Equal(t, Open, q.Defects.Claim)
}

// The drift of a line with a known slope, and of lots that jump.
func TestDriftFollowsSerials(t *testing.T) {
	w := usual()
	w.drift = 2
	q := decided(t, w.draw())
	d := q.Comparisons[0].Drifts[Candidate]
	require.True(t, d.Contains(0.02), "%v", d)
	require.InDelta(t, 0.02, d.Difference, 3*0.01*math.Sqrt(12/600.0))
	require.Less(t, math.Abs(q.Comparisons[0].Rig.Difference), 0.005, "in the order of testing there is none")
	jumps := world{boards: 600, lots: 6, lotSD: 1.5, gaugeSD: 0.05, seed: 3}
	c := decided(t, jumps.draw()).Comparisons[0]
	require.True(t, c.ByLots)
	require.Equal(t, 4.0, math.Round(c.Drifts[Incumbent].DF), "six lots about a line")
}

func TestSerialsCountUp(t *testing.T) {
	list := []string{"A-10", "A-9", "B-1", "A-009x", "A", "A-10-2", "A-10-10"}
	slices.SortFunc(list, func(a, b string) int { return bySerial(&Board{Serial: a}, &Board{Serial: b}) })
	require.Equal(t, []string{"A", "A-9", "A-009x", "A-10", "A-10-2", "A-10-10", "B-1"}, list)
}

func TestValuesWithoutSpread(t *testing.T) {
	s := usual().draw()
	for i := range s.Boards {
		s.Boards[i].Values[1] = 0.2
	}
	c := decided(t, s).Comparisons[1]
	require.Equal(t, []Claim{Proved, Proved, Proved}, []Claim{c.Alike, c.Steady, c.Capable})
}

func TestAmounts(t *testing.T) {
	for want, got := range map[string]string{
		"15.75 mA": Amount(0.015748, "A"), "5.1 kΩ": Amount(5100, "Ω"), "0 V": Amount(0, "V"), "1 V": Amount(0.99999, "V"),
		"-36.2 nF": Amount(-3.62e-8, "F"), "0.25": Amount(0.25, "1"), "3 C": Amount(3, "C"),
	} {
		require.Equal(t, want, got)
	}
}

func TestSamplesThatCannotBeDecided(t *testing.T) {
	s := usual().draw()
	s.Boards = slices.DeleteFunc(s.Boards, func(b Board) bool { return b.Side == Incumbent })
	_, err := Decide(s)
	require.ErrorIs(t, err, ErrNoBoards)
	s = usual().draw()
	s.Boards[5].Values = nil
	_, err = Decide(s)
	require.ErrorContains(t, err, "has 0 values of 2")
	s = usual().draw()
	for i := range s.Boards {
		s.Boards[i].Values[0] = math.NaN()
	}
	_, err = Decide(s)
	require.ErrorContains(t, err, "characteristic current: 0 good boards")
}
