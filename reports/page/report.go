package page

import (
	"fmt"
	"strings"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// Report is the view of one record: everything that stands on the page, as
// text.
type Report struct {
	Title    string
	Serial   string
	Verdict  string // "PASS", "FAIL", "NO VERDICT"
	Tone     Tone
	Bin      string // the operator's instruction
	Reason   string
	Twin     bool // a simulated bench: no evidence about a unit that exists
	Identity []Row
	Evidence []Row
	Rework   []Rework
	Checks   []CheckRow
	// Counts sums the answers up in one line.
	Counts  string
	Hidden  []Row // what was not observable, and why
	Notes   []Row
	Figures []plot.Figure
	Code    string // the text of the DataMatrix
	Hash    string
	Started string // RFC 3339, for the documents' dates
}

// Tone says how an answer is set off; the word itself always stands beside
// it, so colour alone carries nothing.
type Tone string

// The tones.
const (
	Good  Tone = "good"
	Bad   Tone = "bad"
	Open  Tone = "open"
	Plain Tone = "plain"
)

// Row is a label with its text.
type Row struct{ Label, Text string }

// Rework is one thing to do to the unit.
type Rework struct {
	Title string
	Text  string
	// Likely is the probability in words, where one was computed.
	Likely string
	// Checks names the checks that speak for it.
	Checks string
}

// CheckRow is one line of the table of checks.
type CheckRow struct {
	Number     int
	Title      string
	Name       string
	Condition  string
	Value      string
	Limits     string
	Acceptance string
	Source     string
	Answer     string
	Tone       Tone
	Why        string
	Control    bool
}

// Proof is what the ledger knows of a record and the record itself does not.
type Proof struct {
	// Hash is the hash of the entry that holds the record.
	Hash string
	// Head is the hash of the last entry of the chain when the report was
	// made: with it a cut tail can be seen.
	Head string
	// Seq is the entry's number.
	Seq int64
	// Key is the id of the key that signed.
	Key string
}

// NewReport makes the view of a record.
func NewReport(run record.Run, proof Proof) Report {
	r := Report{
		Title: "Charge port test report", Serial: run.Serial, Reason: run.Reason,
		Twin: run.Bench.Kind == record.Twin, Hash: proof.Hash, Started: run.Started,
		Bin:  binText(run.Bin),
		Code: "sinkproof " + run.Serial + " " + proof.Hash,
	}
	r.Verdict, r.Tone = verdictText(run.Verdict)
	r.Identity = identity(run)
	r.Evidence = evidence(run, proof)
	r.Rework = rework(run)
	r.Checks, r.Counts = checks(run)
	r.Hidden = hidden(run)
	r.Notes = notes(run)
	for _, w := range run.Waveforms {
		if len(w.Samples) > 0 {
			r.Figures = append(r.Figures, figure(w))
		}
	}
	return r
}

func verdictText(v record.Verdict) (string, Tone) {
	switch v {
	case record.Pass:
		return "PASS", Good
	case record.Fail:
		return "FAIL", Bad
	}
	return "NO VERDICT", Open
}

func binText(b record.Bin) string {
	switch b {
	case record.BinPass:
		return "Bin: pass"
	case record.BinRework:
		return "Bin: rework"
	case record.BinQuarantine:
		return "Bin: quarantine. The cell may be a hazard: do not charge, do not ship, keep apart."
	}
	return "Bin: retest. The bench could not judge this unit."
}

func identity(run record.Run) []Row {
	rows := []Row{
		{"Serial", run.Serial},
		{"Product", run.Product},
		{"Lot", run.Lot},
		{"Supplier", run.Supplier},
		{"Attempt", attemptText(run.Attempt)},
		{"Started", startText(run.Started)},
		{"Duration", offsetText(run.DurationUS)},
		{"Bench", run.Bench.Name},
		{"Decision rule", decisionText(run.Decision)},
	}
	return filled(rows)
}

// filled drops the rows without text.
func filled(rows []Row) []Row {
	kept := rows[:0]
	for _, r := range rows {
		if r.Text != "" {
			kept = append(kept, r)
		}
	}
	return kept
}

func attemptText(n int) string {
	if n <= 1 {
		return "first"
	}
	return fmt.Sprintf("retest (attempt %d); the earlier answer stays in the ledger", n)
}

func decisionText(d record.Decision) string {
	if d.Rule == record.Guarded {
		return fmt.Sprintf("guarded: acceptance limit drawn in by %g U (JCGM 106, 8.3)", d.Guard)
	}
	return "simple acceptance (JCGM 106, 8.2)"
}

func evidence(run record.Run, proof Proof) []Row {
	rows := []Row{
		{"Record", run.ID},
		{"Record hash", grouped(proof.Hash)},
		{"Entry", fmt.Sprintf("%d of this bench's chain", proof.Seq)},
		{"Chain head", grouped(proof.Head)},
		{"Signing key", proof.Key},
		{"Program", "sinkproof " + run.Bench.Program},
		{"Calibration", calibrationText(run.Bench.Calibration)},
	}
	for _, f := range run.Files {
		rows = append(rows, Row{
			strings.ToUpper(f.Role[:1]) + f.Role[1:],
			strings.TrimSpace(f.Name+" "+f.Version) + ", SHA-256 " + grouped(f.SHA256),
		})
	}
	return filled(rows)
}

func calibrationText(id string) string {
	if id == "" {
		return "none in force: uncertainties from the tolerances of the wiring file"
	}
	return id
}

// rework lists the suspects where the run named any, else what the failed
// checks ask for, each text once.
func rework(run record.Run) []Rework {
	var list []Rework
	for _, s := range run.Suspects {
		item := Rework{Title: s.Title, Text: s.Rework, Checks: strings.Join(s.For, ", ")}
		if s.Probability != nil {
			item.Likely = fmt.Sprintf("%.0f %%", *s.Probability*100)
		}
		list = append(list, item)
	}
	if len(list) > 0 {
		return list
	}
	seen := map[string]bool{}
	for _, c := range run.Checks {
		if c.Answer == record.Failed && c.Rework != "" && !seen[c.Rework] {
			seen[c.Rework] = true
			list = append(list, Rework{Title: c.Title, Text: c.Rework, Checks: c.Name})
		}
	}
	return list
}

func checks(run record.Run) ([]CheckRow, string) {
	var rows []CheckRow
	count := map[record.Answer]int{}
	for i, c := range run.Checks {
		count[c.Answer]++
		row := CheckRow{
			Number: i + 1, Title: c.Title, Name: c.Name, Condition: tie(c.Condition),
			Limits: limitsText(c.Lower, c.Upper), Acceptance: acceptanceText(c.Lower, c.Upper),
			Source: sourceText(c.Lower, c.Upper), Why: c.Why, Control: c.Control,
		}
		if c.Value != nil {
			row.Value = valueText(*c.Value)
		}
		row.Answer, row.Tone = answerText(c.Answer)
		rows = append(rows, row)
	}
	counts := fmt.Sprintf("%d checks: %d passed, %d failed, %d unanswered; %d not observable on this product",
		len(rows), count[record.Passed], count[record.Failed],
		len(rows)-count[record.Passed]-count[record.Failed], len(run.NotObservable))
	return rows, counts
}

func answerText(a record.Answer) (string, Tone) {
	switch a {
	case record.Passed:
		return "pass", Good
	case record.Failed:
		return "FAIL", Bad
	}
	return string(a), Open
}

func hidden(run record.Run) []Row {
	var rows []Row
	for _, n := range run.NotObservable {
		title := n.Title
		if title == "" {
			title = n.Check
		}
		rows = append(rows, Row{title, n.Why})
	}
	return rows
}

func notes(run record.Run) []Row {
	var rows []Row
	if f := run.Fault; f != nil {
		text := f.What
		if f.Hint != "" {
			text += ". Next: " + f.Hint
		}
		rows = append(rows, Row{offsetText(f.AtUS) + " bench fault", text})
	}
	for _, n := range run.Notes {
		rows = append(rows, Row{offsetText(n.AtUS) + " " + n.Kind, n.Text})
	}
	return rows
}

// Limitations is what no report of this rig may leave unsaid.
func Limitations() []string {
	return []string{
		"The report proves what was asked, on the day it was asked. It does not prove that single power contacts of the receptacle carry current: the test plug joins them.",
		"Power delivery above 5 V was not part of the test.",
	}
}

// Cautions are the usual ones of the trade; they defer to local rules.
func Cautions() []string {
	return []string{
		"Lithium cells: never charge a cell that is swollen, punctured, leaking or warm; never leave a charging test unattended; keep a fire-resistant container at hand. On any fault open the VBUS path first, then the cell path.",
		"Mains supplies: only approved supplies, opened by nobody but qualified persons. Connectors and supplies can get hot under load.",
		"A unit from the quarantine bin is not charged, not shipped and not stored with others.",
		"Local electrical, fire and transport rules and the judgement of qualified persons come before this page.",
	}
}
