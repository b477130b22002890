package ledger

import (
	"fmt"
	"reflect"

	"sinkproof/reports/record"
)

// goldenAudit follows the golden units through a chain.
type goldenAudit struct {
	// inUse are the golden units in use by serial, runs counts the openings by
	// serial.
	inUse map[string]*auditedGolden
	runs  map[string]int
	// records are the closed runs of products while any golden unit was in use.
	records []auditedRecord
	// due is the suspicion that the next entry must hold; nil for none.
	due *record.Suspicion
	// standing are the suspicions that nobody withdrew, by golden run.
	standing map[string][]record.Suspect
}

type auditedGolden struct {
	record.Golden
	// registered is the entry of the registration, good that of the last good answer
	// by the nest that it was given in.
	registered int64
	good       map[int]int64
}

type auditedRecord struct {
	record.Suspect
	bench, kind string
	nest        int
}

func newGoldenAudit() *goldenAudit {
	return &goldenAudit{inUse: map[string]*auditedGolden{}, runs: map[string]int{}, standing: map[string][]record.Suspect{}}
}

// expected demands that a suspicion follows the golden run that it comes from,
// and nothing else does.
func (g *goldenAudit) expected(doc record.Document) error {
	s, is := doc.(record.Suspicion)
	switch {
	case g.due == nil && is:
		return fmt.Errorf("holds a suspicion that no golden run before it asks for: %w", ErrRun)
	case g.due == nil:
		return nil
	case !is:
		return fmt.Errorf("stands where the suspicion from golden run %s belongs: %w", g.due.Run, record.ErrMissing)
	case !reflect.DeepEqual(s, *g.due):
		return fmt.Errorf("holds another suspicion than follows from golden run %s and the chain: %w", g.due.Run, ErrRun)
	}
	g.due = nil
	g.standing[s.Run] = s.Suspects
	return nil
}

// end demands that no suspicion is left out at the end.
func (g *goldenAudit) end() error {
	if g.due != nil {
		return fmt.Errorf("the suspicion from golden run %s is missing at the end: %w", g.due.Run, record.ErrMissing)
	}
	return nil
}

// suspects counts the records under a suspicion that stands.
func (g *goldenAudit) suspects() int64 {
	under := map[string]bool{}
	for _, list := range g.standing {
		for _, s := range list {
			under[s.Run] = true
		}
	}
	return int64(len(under))
}

// closed notes the record of a product.
func (g *goldenAudit) closed(e record.Entry, r record.Run) {
	if len(g.inUse) > 0 {
		g.records = append(g.records, auditedRecord{record.Suspect{Seq: e.Seq, Run: r.ID, Serial: r.Serial}, r.Bench.Name, r.Bench.Kind, r.Nest})
	}
}

// suspect works out which suspicion a golden run asks for.
func (g *goldenAudit) suspect(u *auditedGolden, run record.GoldenRun) error {
	since := u.registered
	if seq, ok := u.good[run.Run.Nest]; ok {
		since = seq
	}
	var list []record.Suspect
	for _, x := range g.records {
		if x.Seq > since && x.bench == run.Run.Bench.Name && x.kind == run.Run.Bench.Kind && convicts(run.Run.Nest, x.nest) {
			list = append(list, x.Suspect)
		}
	}
	s, err := run.Suspect(since, list)
	g.due = &s
	return err
}

// golden checks what an entry about golden units says against the chain before
// it.
func (a *audit) golden(e record.Entry, doc record.Document) error {
	switch d := doc.(type) {
	case record.Golden:
		return a.registered(e, d)
	case record.GoldenRetirement:
		u := a.goldens.inUse[d.Serial]
		if u == nil || u.ID != d.Golden {
			return fmt.Errorf("retires golden unit %q, which is not in use: %w", d.Serial, ErrGolden)
		}
		delete(a.goldens.inUse, d.Serial)
	case record.GoldenOpening:
		return a.goldenOpening(e, d)
	case record.GoldenRun:
		return a.goldenRun(e, d)
	case record.GoldenInterruption:
		opened, ok := a.open[d.ID]
		if !ok || opened.Hash != d.Opened || opened.Kind != record.GoldenOpened {
			return fmt.Errorf("interrupts golden run %s, which is not open with that hash: %w", d.ID, ErrRun)
		}
		delete(a.open, d.ID)
	case record.Suspicion:
		a.report.Suspicions++
	case record.Withdrawal:
		if _, standing := a.goldens.standing[d.Run]; !standing {
			return fmt.Errorf("withdraws the suspicion from golden run %s, which does not stand: %w", d.Run, ErrRun)
		}
		delete(a.goldens.standing, d.Run)
	}
	return nil
}

func (a *audit) registered(e record.Entry, g record.Golden) error {
	if err := a.allowed(g.Bench, fmt.Sprintf("golden unit %q", g.Serial)); err != nil {
		return err
	}
	switch {
	case a.ids[g.ID]:
		return fmt.Errorf("registers golden unit %s a second time: %w", g.ID, ErrRun)
	case a.goldens.inUse[g.Serial] != nil:
		return fmt.Errorf("registers golden unit %q, which is in use: %w", g.Serial, ErrGolden)
	}
	a.ids[g.ID] = true
	a.goldens.inUse[g.Serial] = &auditedGolden{g, e.Seq, map[int]int64{}}
	a.report.GoldenUnits++
	return nil
}

func (a *audit) goldenOpening(e record.Entry, o record.GoldenOpening) error {
	if err := a.allowed(o.Bench, fmt.Sprintf("golden run %s of serial %q", o.ID, o.Serial)); err != nil {
		return err
	}
	u := a.goldens.inUse[o.Serial]
	if u == nil {
		return fmt.Errorf("opens a golden run of serial %q, no golden unit in use: %w", o.Serial, ErrGolden)
	}
	if err := (GoldenUnit{Golden: u.Golden}).fits(o.Opening); err != nil {
		return err
	}
	if a.ids[o.ID] {
		return fmt.Errorf("opens run %s a second time: %w", o.ID, ErrRun)
	}
	a.goldens.runs[o.Serial]++
	if o.Attempt != a.goldens.runs[o.Serial] {
		return fmt.Errorf("is golden run %d of serial %q, the chain makes it %d: %w", o.Attempt, o.Serial, a.goldens.runs[o.Serial], ErrRun)
	}
	a.ids[o.ID], a.open[o.ID] = true, e
	return nil
}

// goldenRun judges the run anew.
func (a *audit) goldenRun(e record.Entry, g record.GoldenRun) error {
	if err := a.identical(g.Run.Opening, record.GoldenOpened); err != nil {
		return err
	}
	u := a.goldens.inUse[g.Run.Serial]
	if u == nil || u.ID != g.Golden {
		return fmt.Errorf("is a run of golden unit %q, which is not in use: %w", g.Run.Serial, ErrGolden)
	}
	if answer, _ := u.Judge(g.Run); answer != g.Answer {
		return fmt.Errorf("says that golden unit %q answers %q, its readings say %q: %w", g.Run.Serial, g.Answer, answer, ErrRun)
	}
	delete(a.open, g.Run.ID)
	a.report.GoldenRuns++
	switch g.Answer {
	case record.AsExpected:
		u.good[g.Run.Nest] = e.Seq
	case record.Deviates:
		return a.goldens.suspect(u, g)
	}
	return nil
}
