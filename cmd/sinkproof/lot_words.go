package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"sinkproof/reports/ledger"
	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// lotAnswer is a lot for a program.
type lotAnswer struct {
	lotLine
	Level      string    `json:"level"`
	AQL        float64   `json:"aql"`
	CodeLetter string    `json:"code_letter"`
	PlanLetter string    `json:"plan_letter"`
	Reason     string    `json:"reason"`
	Bench      string    `json:"bench"`
	BenchKind  string    `json:"bench_kind"`
	By         string    `json:"by"`
	Seed       string    `json:"seed"`
	Entry      int64     `json:"entry"`
	Hash       string    `json:"hash"`
	Units      []lotUnit `json:"units"`
	Untested   []string  `json:"untested"`
	Retest     []string  `json:"retest"`
	// Doubted are units whose answer fell under suspicion after the judgement.
	Doubted    []string `json:"doubted_since"`
	JudgedBy   string   `json:"judged_by,omitempty"`
	JudgedHash string   `json:"judged_hash,omitempty"`
	// Next is the severity of the supplier's next lot; absent while this one is
	// open.
	Next  string `json:"next_severity,omitempty"`
	Score *int   `json:"switching_score,omitempty"`
}

// lotLine is a lot in a list for a program.
type lotLine struct {
	Lot        string `json:"lot"`
	Supplier   string `json:"supplier"`
	Product    string `json:"product"`
	Opened     string `json:"opened"`
	Size       int    `json:"size"`
	Severity   string `json:"severity"`
	SampleSize int    `json:"sample_size"`
	Accept     int    `json:"accept"`
	Reject     int    `json:"reject"`
	// Outcome is open, accepted, rejected or abandoned.
	Outcome string `json:"outcome"`
	Tested  int    `json:"tested"`
	Bad     int    `json:"bad"`
	Judged  string `json:"judged,omitempty"`
}

// lotUnit is a drawn unit for a program.
type lotUnit struct {
	Serial string   `json:"serial"`
	Answer string   `json:"answer,omitempty"`
	Failed []string `json:"checks_failed"`
	Runs   []lotRun `json:"runs"`
}

type lotRun struct {
	Run     string `json:"run"`
	Entry   int64  `json:"entry"`
	Verdict string `json:"verdict"`
	Suspect bool   `json:"suspect"`
	// Counts tells that the run gave the unit its answer.
	Counts bool `json:"counts"`
}

func lineOf(l ledger.Lot, s record.LotStanding) lotLine {
	line := lotLine{
		Lot: l.Lot, Supplier: l.Supplier, Product: l.Product, Opened: l.Made, Size: len(l.Serials), Severity: l.Plan.Severity,
		SampleSize: len(l.Drawn), Accept: l.Plan.Accept, Reject: l.Plan.Accept + 1, Outcome: "open", Tested: s.Tested, Bad: s.Bad,
	}
	if l.Judged != nil {
		line.Outcome, line.Judged = string(l.Judged.Outcome), l.Judged.Made
	}
	return line
}

func lotOf(s shownLot) lotAnswer {
	a := lotAnswer{
		lotLine: lineOf(s.Lot, s.standing), Level: s.Plan.Level, AQL: s.Plan.AQL, CodeLetter: s.Plan.CodeLetter, PlanLetter: s.Plan.PlanLetter,
		Reason: s.standing.Reason(), Bench: s.Bench.Name, BenchKind: s.Bench.Kind, By: s.By, Seed: s.Seed, Entry: s.Seq, Hash: s.Hash,
		Untested: append([]string{}, s.standing.Untested...), Retest: append([]string{}, s.standing.Retest...), Units: []lotUnit{},
		Doubted: append([]string{}, s.doubted...),
	}
	if j := s.Judged; j != nil {
		a.Reason, a.JudgedBy, a.JudgedHash = j.Reason, j.By, s.JudgedHash
		a.Next = s.inspection.Switching.Severity.String()
		if s.inspection.Switching.Severity == sampling.Normal {
			a.Score = &s.inspection.Switching.Score
		}
	}
	for _, u := range s.standing.Units {
		unit := lotUnit{Serial: u.Serial, Answer: string(u.Answer), Failed: append([]string{}, u.Failed...), Runs: []lotRun{}}
		for _, r := range u.Runs {
			unit.Runs = append(unit.Runs, lotRun{r.Run, r.Seq, string(r.Verdict), r.Suspect, r.Run == u.Run})
		}
		a.Units = append(a.Units, unit)
	}
	return a
}

// printLot prints a lot for a person: the plan, the drawn units with their
// answers, and where it stands.
func printLot(w io.Writer, s shownLot) error {
	var b strings.Builder
	fmt.Fprintf(&b, "lot %s  %s  from %s  %d units\n", plot.Visible(s.Lot.Lot), plot.Visible(s.Product), plot.Visible(s.Supplier), len(s.Serials))
	fmt.Fprintf(&b, "%s inspection, level %s, limit %v %%: test %d (letter %s, plan %s), accept with up to %d bad, reject from %d on\n",
		s.Plan.Severity, s.Plan.Level, s.Plan.AQL, len(s.Drawn), s.Plan.CodeLetter, s.Plan.PlanLetter, s.Plan.Accept, s.Plan.Accept+1)
	fmt.Fprintf(&b, "drawn %s by %s, entry %d, hash %s\n\n", s.Made, plot.Visible(s.By), s.Seq, s.Hash)
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "TEST\tSERIAL\tANSWER\tFAILED BY\tRUNS")
	for i, u := range s.standing.Units {
		state, _ := page.UnitState(u)
		fmt.Fprintf(t, "%d\t%s\t%s\t%s\t%s\n", i+1, u.Serial, state, page.FailedText(u), plot.Visible(page.RunsText(u)))
	}
	if err := t.Flush(); err != nil {
		return fmt.Errorf("print the units: %w", err)
	}
	if _, err := io.WriteString(w, trimmed(b.String())+"\n"+lotSentence(s)+"\n"); err != nil {
		return fmt.Errorf("print the lot: %w", err)
	}
	return nil
}

// trimmed takes the spaces off the ends of lines.
func trimmed(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}

// lotSentence is where a lot stands, and what is next.
func lotSentence(s shownLot) string {
	if j := s.Judged; j != nil {
		text := fmt.Sprintf("%s: %s\njudged %s by %s. %s", strings.ToUpper(string(j.Outcome)), plot.Visible(j.Reason), j.Made, plot.Visible(j.By), page.NextText(s.inspection.Switching))
		if len(s.doubted) > 0 {
			text += "\n" + page.DoubtText(s.doubted)
		}
		return text
	}
	if s.standing.Outcome() != record.Undecided {
		return "to be judged: " + s.standing.Reason()
	}
	return "open: " + s.standing.Reason()
}
