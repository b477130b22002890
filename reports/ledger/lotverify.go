package ledger

import (
	"fmt"
	"reflect"
	"slices"

	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// lotAudit follows the incoming lots through a chain.
type lotAudit struct {
	// known are the lots by name, open those that are not judged, by supplier and
	// product.
	known map[record.LotName]bool
	open  map[source]*auditedLot
	// switching is where the rules stand for each supplier and product.
	switching map[source]*sampling.Switching
	// pending are the open runs of drawn units, by run id.
	pending map[string]*auditedLot
}

// source is where lots come from: whose history it is.
type source struct{ supplier, product string }

type auditedLot struct {
	record.LotDraw
	drawn map[string]bool
	runs  map[string][]record.LotRun
}

func newLotAudit() *lotAudit {
	return &lotAudit{
		known: map[record.LotName]bool{}, open: map[source]*auditedLot{},
		switching: map[source]*sampling.Switching{}, pending: map[string]*auditedLot{},
	}
}

func (l *lotAudit) rules(s source) *sampling.Switching {
	if l.switching[s] == nil {
		l.switching[s] = &sampling.Switching{}
	}
	return l.switching[s]
}

// opened notes a run of a drawn unit.
func (l *lotAudit) opened(o record.Opening) {
	lot := l.open[source{o.Supplier, o.Product}]
	if lot != nil && lot.Lot == o.Lot && lot.drawn[o.Serial] {
		l.pending[o.ID] = lot
	}
}

// ended notes what became of it.
func (l *lotAudit) ended(e record.Entry, id, serial string, verdict record.Verdict, failed []string) {
	if lot := l.pending[id]; lot != nil {
		lot.runs[serial] = append(lot.runs[serial], record.LotRun{Seq: e.Seq, Run: id, Verdict: verdict, Failed: failed})
		delete(l.pending, id)
	}
}

// lot checks what an entry about lots says against the chain before it.
func (a *audit) lot(e record.Entry, doc record.Document) error {
	switch d := doc.(type) {
	case record.Opening:
		a.lots.opened(d)
	case record.Run:
		a.lots.ended(e, d.ID, d.Serial, d.Verdict, failed(d))
	case record.Interruption:
		a.lots.ended(e, d.ID, d.Serial, record.None, nil)
	case record.LotDraw:
		return a.lotDraw(e, d)
	case record.LotJudgement:
		return a.lotJudgement(d)
	case record.TestOrder:
		return a.order(e, d)
	case record.SupplierResumption:
		rules := a.lots.rules(source{d.Supplier, d.Product})
		if rules.Severity != sampling.Discontinued {
			return fmt.Errorf("resumes supplier %q of %q, who is on %s inspection: %w", d.Supplier, d.Product, rules.Severity, ErrLot)
		}
		rules.Resume()
	}
	return nil
}

// lotDraw works the plan and the drawn units out anew.
func (a *audit) lotDraw(e record.Entry, d record.LotDraw) error {
	if err := a.allowed(d.Bench, d.String()); err != nil {
		return err
	}
	from := source{d.Supplier, d.Product}
	severity := a.lots.rules(from).Severity
	switch {
	case a.ids[d.ID]:
		return fmt.Errorf("opens lot %s a second time: %w", d.ID, ErrRun)
	case a.lots.known[d.LotName]:
		return fmt.Errorf("draws %s a second time: %w", d.LotName, ErrLot)
	case a.lots.open[from] != nil:
		return fmt.Errorf("opens %s while %s is open: %w", d.LotName, a.lots.open[from].LotName, ErrLot)
	case severity == sampling.Discontinued:
		return fmt.Errorf("opens %s: %w", d.LotName, ErrDiscontinued)
	}
	plan, err := planOf(d, severity)
	if err != nil {
		return err
	}
	if !reflect.DeepEqual(plan, d.Plan) {
		return fmt.Errorf("inspects %s by another plan than follows from the chain, which makes it %s inspection with acceptance number %d: %w",
			d.LotName, plan.Severity, plan.Accept, ErrLot)
	}
	drawn, err := drawnBy(d, e.Previous)
	if err != nil {
		return err
	}
	if !slices.Equal(drawn, d.Drawn) {
		return fmt.Errorf("names other units of %s than its seed draws: %w", d.LotName, ErrLot)
	}
	lot := &auditedLot{LotDraw: d, drawn: map[string]bool{}, runs: map[string][]record.LotRun{}}
	for _, s := range drawn {
		lot.drawn[s] = true
	}
	a.ids[d.ID], a.lots.known[d.LotName], a.lots.open[from] = true, true, lot
	a.report.Lots++
	return nil
}

// lotJudgement judges the lot anew.
func (a *audit) lotJudgement(d record.LotJudgement) error {
	from := source{d.Supplier, d.Product}
	lot := a.lots.open[from]
	if lot == nil || lot.ID != d.Draw || lot.LotName != d.LotName {
		return fmt.Errorf("judges %s, which is not open: %w", d.LotName, ErrLot)
	}
	doubtful := map[string]bool{}
	for _, list := range a.goldens.standing {
		for _, s := range list {
			doubtful[s.Run] = true
		}
	}
	for _, runs := range lot.runs {
		for i := range runs {
			runs[i].Suspect = doubtful[runs[i].Run]
		}
	}
	j, err := judgementOf(lot.Standing(lot.runs), d)
	if err != nil {
		return err
	}
	// The words of the reason are the program's of that time, the figures count.
	j.Reason = d.Reason
	if !reflect.DeepEqual(asKept(j), d) {
		return fmt.Errorf("calls %s %s with %d bad units, its runs say %s with %d, or name other runs: %w", d.LotName, d.Outcome, d.Bad, j.Outcome, j.Bad, ErrLot)
	}
	counted(a.lots.rules(from), lot.LotDraw, d)
	delete(a.lots.open, from)
	a.report.LotsJudged++
	return nil
}

// asKept is a judgement without what an entry leaves out.
func asKept(j record.LotJudgement) record.LotJudgement {
	j.Units = slices.Clone(j.Units)
	for i := range j.Units {
		runs := slices.Clone(j.Units[i].Runs)
		for k := range runs {
			runs[k].Failed, runs[k].Reason = nil, ""
		}
		j.Units[i].Runs = runs
	}
	return j
}
