package page

import (
	"fmt"
	"strings"

	"sinkproof/reports/page/plot"
	plans "sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// Lot is an incoming lot as the page takes it.
type Lot struct {
	// Standing is the draw with the answers so far.
	Standing record.LotStanding
	// Seq and Hash are those of the entry that drew the units.
	Seq  int64
	Hash string
	// Judged is set once the lot is judged.
	Judged *record.LotJudgement
	// Before are the lots of the supplier and the product, this one included, in
	// the order in which they were opened.
	Before []LotBefore
	// Doubted are drawn units whose answer fell under suspicion after the
	// judgement.
	Doubted []string
	// Next is where the switching rules stand after the last of them.
	Next plans.Switching
}

// LotBefore is a lot of the history in a line.
type LotBefore struct {
	record.LotDraw
	// Judged is nil for an open lot.
	Judged *record.LotJudgement
}

// lotTwin stands first on the page of a lot of the twin.
const lotTwin = "Simulated bench: this page is no evidence about boards that exist. "

// NewLot makes the view of an incoming lot.
func NewLot(l Lot) Study {
	s := l.Standing
	d := s.Draw
	v := Study{
		Kind: "Incoming lot", Title: fmt.Sprintf("%s, %s from %s", d.Lot, d.Product, d.Supplier), Started: d.Made, Method: lotMethod(),
	}
	v.Verdict, v.Tone = lotVerdict(l)
	v.Lead = fmt.Sprintf("The lot has %d units. By the plan for %s inspection %d of them are tested, drawn by chance before the first test; the lot is accepted with up to %d bad and rejected from %d on.",
		len(d.Serials), d.Plan.Severity, len(d.Drawn), d.Plan.Accept, d.Plan.Accept+1)
	if d.Bench.Kind == record.Twin {
		v.Lead = lotTwin + v.Lead
	}
	if len(l.Doubted) > 0 {
		v.Lead = DoubtText(l.Doubted) + " " + v.Lead
	}
	if l.Judged != nil {
		v.Started = l.Judged.Made
	}
	v.Sections = []StudySection{
		{Title: "Plan", Facts: lotFacts(l), Figures: lotFigures(s)},
		{Title: "Units", Lead: unitsLead(s), Tables: []StudyTable{unitsTable(s)}},
		{Title: "Lots of this supplier", Lead: nextLead(l), Tables: []StudyTable{lotsTable(l.Before)}},
	}
	return v
}

func lotVerdict(l Lot) (string, Tone) {
	outcome, reason := l.Standing.Outcome(), l.Standing.Reason()
	if l.Judged != nil {
		outcome, reason = l.Judged.Outcome, l.Judged.Reason
	}
	switch {
	case l.Judged == nil && outcome != record.Undecided:
		return "To be judged: " + reason, Open
	case outcome == record.Accepted:
		return "Accepted: " + reason, Good
	case outcome == record.Rejected:
		return "Rejected: " + reason, Bad
	case outcome == record.Abandoned:
		return "Abandoned: " + reason, Open
	}
	return "Open: " + reason, Open
}

func lotFacts(l Lot) []Row {
	d := l.Standing.Draw
	p := d.Plan
	facts := []Row{
		{"Lot", d.Lot}, {"Supplier", d.Supplier}, {"Product", d.Product}, {"Units in the lot", fmt.Sprint(len(d.Serials))},
		{"Inspection", fmt.Sprintf("%s, level %s, acceptance quality limit %v %%", p.Severity, p.Level, p.AQL)},
		{"Plan", fmt.Sprintf("letter %s, plan %s: test %d, accept with up to %d bad", p.CodeLetter, p.PlanLetter, len(d.Drawn), p.Accept)},
		{"Drawn", fmt.Sprintf("%s, by %s, entry %d", startText(d.Made), d.By, l.Seq)}, {"Hash of the draw", grouped(l.Hash)},
	}
	if j := l.Judged; j != nil {
		facts = append(facts, Row{"Judged", startText(j.Made) + ", by " + j.By})
		if j.Steady {
			facts = append(facts, Row{"Production", "called steady; reduced inspection is wanted where the rules allow it"})
		}
	}
	return filled(facts)
}

// lotFigures are what the plan accepts, and the way of the bad units.
func lotFigures(s record.LotStanding) []StudyFigure {
	d := s.Draw
	plan, size := plans.Plan{N: len(d.Drawn), Accept: d.Plan.Accept}, len(d.Serials)
	lot := plans.Lot{Law: plans.Hypergeometric, Size: size}
	oc := plot.Figure{Title: "What the plan accepts", X: plot.Axis{Name: "bad units in the lot", Unit: "%"}, Y: plot.Axis{Name: "accepted", Unit: "%"},
		Marks: []plot.Mark{{Label: fmt.Sprintf("limit %v %%", d.Plan.AQL), X: d.Plan.AQL}}}
	// Half a percent is what a reader can still tell from the axis.
	for bad := 0; bad <= size; bad++ {
		y := 100 * plan.Accepts(lot, float64(bad)/float64(size))
		oc.Curve = append(oc.Curve, plot.Point{X: 100 * float64(bad) / float64(size), Y: y})
		if y < 0.5 {
			break
		}
	}
	way := plot.Figure{Title: "Bad units among those tested", X: plot.Axis{Name: "units tested"}, Y: plot.Axis{Name: "bad"},
		Levels: []plot.Level{{Label: "rejected from", Y: float64(d.Plan.Accept + 1)}}, Curve: []plot.Point{{}},
		Series: []plot.Series{{Shape: plot.Room, Points: []plot.Point{{X: float64(len(d.Drawn)), Y: float64(d.Plan.Accept + 1)}}}}}
	// Few units are counted one by one.
	for n := 0; d.Plan.Accept < 8 && n <= max(d.Plan.Accept+1, s.Bad); n++ {
		way.YTicks = append(way.YTicks, plot.Tick{At: float64(n), Label: fmt.Sprint(n)})
	}
	tested, bad := 0.0, 0.0
	for _, u := range s.Units {
		if u.Answer == "" {
			continue
		}
		way.Curve = append(way.Curve, plot.Point{X: tested + 1, Y: bad})
		tested++
		if u.Answer == record.Fail {
			bad++
			way.Curve = append(way.Curve, plot.Point{X: tested, Y: bad})
		}
	}
	return []StudyFigure{{Figure: oc, Half: true}, {Figure: way, Half: true}}
}

func unitsLead(s record.LotStanding) string {
	parts := []string{fmt.Sprintf("%d of %d drawn units have an answer, %d of them bad.", s.Tested, len(s.Draw.Drawn), s.Bad)}
	if n := len(s.Untested); n > 0 {
		parts = append(parts, fmt.Sprintf("%d were not tested.", n))
	}
	if n := len(s.Retest); n > 0 {
		parts = append(parts, fmt.Sprintf("Of %d the bench could not tell: they are to be tested again.", n))
	}
	return strings.Join(append(parts, "They stand in the order in which they were drawn."), " ")
}

// UnitState says in words where a drawn unit stands, and in which tone.
func UnitState(u record.LotUnit) (string, Tone) {
	switch {
	case u.Answer == record.Pass:
		return "good", Good
	case u.Answer == record.Fail:
		return "BAD", Bad
	case len(u.Runs) > 0:
		return "test again", Open
	}
	return "not tested", Plain
}

// RunsText tells the runs of a drawn unit in their order, with the one that
// counts.
func RunsText(u record.LotUnit) string {
	var texts []string
	for _, r := range u.Runs {
		text := string(r.Verdict)
		if r.Verdict == record.None {
			text = "no verdict"
			if r.Reason != "" {
				text += " (" + r.Reason + ")"
			}
		}
		if r.Suspect {
			text += ", bench in doubt"
		}
		if len(u.Runs) > 1 && r.Run == u.Run {
			text += " (counts)"
		}
		texts = append(texts, text)
	}
	return strings.Join(texts, "; then ")
}

// FailedText names the checks that failed a drawn unit, the first three of
// many.
func FailedText(u record.LotUnit) string { return fewNames(u.Failed) }

func unitsTable(s record.LotStanding) StudyTable {
	t := StudyTable{Columns: []StudyColumn{{"Test", true}, {"Serial", false}, {"Answer", false}, {"Failed by", false}, {"Runs", false}}}
	for i, u := range s.Units {
		state, tone := UnitState(u)
		t.Rows = append(t.Rows, StudyRow{[]string{fmt.Sprint(i + 1), u.Serial, state, FailedText(u), RunsText(u)}, tone})
	}
	return t
}

// DoubtText says that answers fell under suspicion after the judgement.
func DoubtText(serials []string) string {
	return fmt.Sprintf("IN DOUBT SINCE: a golden unit deviated after the judgement, and %d of the answers fall under that suspicion (%s). Test these units again, on a bench that is proven.",
		len(serials), fewNames(serials))
}

// NextText says in words how the next lot is inspected.
func NextText(s plans.Switching) string {
	switch s.Severity {
	case plans.Discontinued:
		return "Inspection is discontinued until the supplier has acted and a named person resumes it."
	case plans.Normal:
		return fmt.Sprintf("The next lot is on normal inspection; the switching score is %d of the 30 that allow reduced inspection.", s.Score)
	}
	return fmt.Sprintf("The next lot is on %s inspection.", s.Severity)
}

func nextLead(l Lot) string {
	if l.Judged == nil {
		return "This lot is open; its outcome says how the next one is inspected."
	}
	return NextText(l.Next)
}

func lotsTable(lots []LotBefore) StudyTable {
	t := StudyTable{Columns: []StudyColumn{{"Lot", false}, {"Opened", false}, {"Units", true}, {"Inspection", false}, {"Tested", true}, {"Bad", true}, {"Accept", true}, {"Outcome", false}}}
	for _, l := range lots {
		outcome, tested, bad, tone := "open", "", "", Plain
		if j := l.Judged; j != nil {
			outcome, tested, bad = string(j.Outcome), fmt.Sprint(j.Tested), fmt.Sprint(j.Bad)
			switch j.Outcome {
			case record.Accepted:
				tone = Good
			case record.Rejected:
				tone = Bad
			}
		}
		t.Rows = append(t.Rows, StudyRow{[]string{
			l.Lot, startText(l.Made), fmt.Sprint(len(l.Serials)), l.Plan.Severity, tested, bad, fmt.Sprint(l.Plan.Accept), outcome,
		}, tone})
	}
	return t
}

func lotMethod() []string {
	return []string{
		"Plans by attributes, single sampling, and the rules that switch between normal, tightened and reduced inspection: ISO 2859-1:1999. The severity follows from the lots of this supplier and this product in the ledger; an abandoned lot counts for nothing.",
		"The units are the first ones in the order of their HMAC-SHA-256 under a key made of 32 random bytes and of the hash of the ledger's entry before. The draw is an entry of the signed chain itself, in front of every run that counts; verification of the ledger draws again.",
		"The answer of a unit is that of its first run which could be trusted. A run without a verdict is a fault of the bench and asks for another; so does one that a golden unit put in doubt. Later runs stand beside the first answer and do not change it. Runs of units that were not drawn, and runs before the draw, do not count.",
		"What the plan accepts is computed for this one lot (hypergeometric law): how often such a sample has no more bad units than may be, by the share of bad units in the lot.",
	}
}
