package page

import (
	"fmt"

	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// Notice stands at the head of a report and says what the bench was worth.
type Notice struct{ Lead, Text string }

// unproven is the notice of a run without golden units.
func unproven(run record.Run) []Notice {
	if run.Bench.Unproven == "" {
		return nil
	}
	return []Notice{{"Bench not proven.", "Its golden units had not answered as expected when this run was made. The reason that was given: " + run.Bench.Unproven + "."}}
}

// Suspect adds the notice that a suspicion falls on the record; w is its
// withdrawal, nil for none.
func (r *Report) Suspect(s record.Suspicion, w *record.Withdrawal) {
	n := Notice{"Under suspicion.", fmt.Sprintf("Golden unit %s deviated from its known answer on %s: %s. Every record of this nest since its last good answer there is in doubt, this one among them: test the unit again. The record itself stays as it was signed.",
		s.Serial, startText(s.Made), record.Brief(s.Why))}
	if w != nil {
		n = Notice{"A suspicion was withdrawn.", fmt.Sprintf("Golden unit %s deviated from its known answer on %s: %s. %s withdrew the suspicion on %s: %s.",
			s.Serial, startText(s.Made), record.Brief(s.Why), w.By, startText(w.Made), w.Reason)}
	}
	r.notice(n)
}

// Prove turns the report into that of a golden run.
func (r *Report) Prove(g record.Golden, run record.GoldenRun) {
	text := fmt.Sprintf("%s. Expected: %s. ", capital(g.Title), expectedText(g.Expected))
	switch run.Answer {
	case record.AsExpected:
		text += "It answered as expected: this run proves the bench."
	case record.Deviates:
		text += "IT DEVIATES: " + record.Brief(run.Deviations) + ". The bench is not fit to judge."
	default:
		text += "It gave no answer: " + record.Brief(run.Deviations) + "."
	}
	r.notice(Notice{"Golden unit.", text})
	// It is no product: nobody reworks it, and no bin is for it.
	r.Title, r.Bin, r.Rework = "Report of a golden run", "Put it back to its place: this is a golden unit.", nil
	for i := range r.Identity {
		if r.Identity[i].Label == "Attempt" {
			r.Identity[i] = Row{"Golden run", fmt.Sprint(run.Run.Attempt)}
		}
	}
}

func (r *Report) notice(n Notice) {
	r.Standing = append(r.Standing, Notice{plot.Visible(n.Lead), plot.Visible(n.Text)})
}
