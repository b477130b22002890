package page

import (
	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// Report is the view of one record: everything that stands on the page, as
// text.
type Report struct {
	Title   string
	Serial  string
	Verdict string // "PASS", "FAIL", "NO VERDICT"
	Tone    Tone
	Bin     string // the operator's instruction
	Reason  string
	Twin    bool // a simulated bench: no evidence about a unit that exists
	// Standing says what the bench was worth, where there is a doubt.
	Standing []Notice `json:",omitempty"`
	Identity []Row
	// Trouble lists what failed and what could not be answered, each cause
	// with what follows from it.
	Trouble []Trouble
	// Findings is what is most likely wrong, Rework what the failed checks ask
	// for.
	Findings Findings `json:",omitzero"`
	Rework   []Rework
	// Counts sums the answers up in one line.
	Counts string
	Groups []Group
	// Sources are where the limits come from; the table refers to them by
	// number.
	Sources  []Source
	Hidden   []Row // why something was not observable, and what
	Notes    []Row
	Figures  []plot.Figure
	Evidence []Row
	Code     string // the text of the DataMatrix
	Hash     string
	Started  string // RFC 3339, for the documents' dates
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

// Trouble is a check that failed or could not be answered of itself.
type Trouble struct {
	CheckRow
	// Consequences names the checks that failed, or were not asked, because
	// of this one.
	Consequences string
}

// Rework is one thing to do to the unit.
type Rework struct {
	Title string
	Text  string
	// Likely is the probability in words, where one was computed.
	Likely string
	// Checks names the checks that speak for it, and against it.
	Checks string
}

// Group is the checks in front of one supply or instrument.
type Group struct {
	Title string
	// Condition is its name in the wiring file.
	Condition string
	Checks    []CheckRow
}

// CheckRow is one line of the table of checks.
type CheckRow struct {
	Number int
	Title  string
	Name   string
	Value  string
	// Limits is the range that was asked for, with the numbers of its
	// sources; Accepted the range that was compared with, where the decision
	// rule drew it in.
	Limits   string
	Accepted string
	// Risk is how likely the answer is wrong, by the uncertainty of the value.
	Risk    string `json:",omitempty"`
	Answer  string
	Tone    Tone
	Why     string
	Control bool
}

// Source is where limits come from.
type Source struct {
	Number int
	Text   string
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
		Title: "Charge port test report", Serial: run.Serial,
		Twin: run.Bench.Kind == record.Twin, Hash: proof.Hash, Started: run.Started,
		Bin: binText(run.Bin), Identity: identity(run), Evidence: evidence(run, proof),
		Code: "sinkproof " + run.Serial + " " + proof.Hash,
	}
	r.Verdict, r.Tone = verdictText(run.Verdict)
	t := newTable(run)
	r.Groups, r.Sources, r.Counts = t.groups(), t.sources, t.counts(run)
	r.Trouble = t.trouble()
	r.Findings = findings(run)
	r.Rework = t.rework(run)
	r.Reason = reason(run, r.Trouble)
	r.Hidden = hidden(run)
	r.Notes = notes(run)
	r.Standing = unproven(run)
	for _, w := range run.Waveforms {
		f, err := figure(w)
		if err != nil {
			r.Notes = append(r.Notes, Row{"Waveform", err.Error()})
			continue
		}
		r.Figures = append(r.Figures, f)
	}
	r.each(plot.Visible)
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

// reason is the record's own, left out where it only repeats the titles of
// the failed checks, which stand right below it with their values.
func reason(run record.Run, trouble []Trouble) string {
	if run.Verdict == record.Fail && len(trouble) > 0 {
		return ""
	}
	return run.Reason
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

// verification tells how to prove that the record was not altered.
const verification = "The ledger proves that this record was not altered: sinkproof ledger verify --key KEY --head HEAD, with the bench's public key and the chain head above. Without the head, a cut tail of the chain cannot be seen."
