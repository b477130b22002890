package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/bench/twin"
	"sinkproof/bench/wiring"
	"sinkproof/fixtures/product"
	"sinkproof/reports/quality/qualification"
)

// The invented suppliers of the second act of the demonstration.
const (
	actSuppliers  = "suppliers"
	newSupplier   = "Tarnholm Circuits"
	supplierLots  = 6
	supplierNests = 2
	supplierDays  = 3
	// supplierBoards is how many boards each sends.
	supplierBoards = 300
	// sharedEvery is how many of its boards share one resistor: 3 %.
	sharedEvery = 0.03
	// otherEvery is how many boards of either have some other fault.
	otherEvery = 0.005
	// currentDrift is how far the candidate's charge current moves from its first
	// board to its last, as a share.
	currentDrift = 0.04
	// The gauge study: so many boards, seated so often in each nest on each day.
	gaugeParts, gaugeSeatings = 6, 2
)

// supplierMargins are the checks whose values the act compares: what the board
// has, and not what the bench's supplies do. Currents may lie 2 % apart.
func supplierMargins() [][]string {
	const current = "8 mA"
	return [][]string{
		{"check", "margin"},
		{"vbus-capacitance", ""}, {"rd-cc1", ""}, {"rd-cc2", ""}, {"cross-cc1", ""}, {"cross-cc2", ""}, {"path-resistance[normal]", ""},
		{"legacy-current[normal]", current}, {"legacy-current[flipped]", current}, {"indicator[normal]", ""}, {"unconfirmed-current[host]", ""},
		{"c-current[3.0 A, normal]", current}, {"constant-current[3.0 V]", current}, {"trickle-current", ""}, {"end-of-charge", ""}, {"back-feed", ""},
	}
}

// supplied is a board of the act before its run.
type supplied struct {
	serial, lot, supplier string
	nest, day             int
	// made is its place in its supplier's production, from 0 to 1.
	made   float64
	faults []twin.Fault
	truth  string
	// pinned tells of a board of the gauge study, which is the same in each nest.
	pinned bool
}

// suppliers is the second act: two suppliers' boards on one bench of two nests,
// and the decision about them.
func (f *demoFlags) suppliers(c *cobra.Command) error {
	boards := supplierBoards
	if c.Flags().Changed("units") {
		boards = f.units
	}
	if boards < 10*supplierLots {
		return usage(fmt.Sprintf("%d of each supplier are the least", 10*supplierLots), "--units %d make no lots", boards)
	}
	p, err := load(defaultRig, defaultProduct, defaultScenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	made, err := f.supplierPlan(p, boards)
	if err != nil {
		return err
	}
	if err := f.clearSuppliers(); err != nil {
		return err
	}
	if err := f.writeSupplierPlan(); err != nil {
		return err
	}
	if err := f.runSuppliers(c, p, made); err != nil {
		return err
	}
	return f.decideSuppliers(c)
}

// supplierFiles are what the act writes.
var supplierFiles = []string{"order.csv", "margins.csv", "decision.html", "decision.pdf", "decision.json"}

func (f *demoFlags) clearSuppliers() error {
	if err := clearDemo(f.out); err != nil {
		return err
	}
	for _, name := range supplierFiles {
		if err := os.RemoveAll(filepath.Join(f.out, name)); err != nil {
			return fmt.Errorf("clear the earlier demo: %w", err)
		}
	}
	return nil
}

// drawn is a source of chance for one purpose of the act.
func (f *demoFlags) drawn(purpose string) *rand.Rand {
	var seed [32]byte
	_, _ = io.ReadFull(stream(f.seed, actSuppliers, purpose), seed[:]) // a stream never ends
	return rand.New(rand.NewChaCha8(seed))
}

// supplierPlan makes the boards of both suppliers; supplierOrder says in which order
// they are tested.
func (f *demoFlags) supplierPlan(p *papers, boards int) ([]supplied, error) {
	var made []supplied
	for i, s := range []struct{ name, letter string }{{newSupplier, "T"}, {demoSupplier, "F"}} {
		list, err := f.production(p, s.name, s.letter, boards, i == 0)
		if err != nil {
			return nil, err
		}
		made = append(made, list...)
	}
	return made, nil
}

// production makes a supplier's boards in the order of their serials.
func (f *demoFlags) production(p *papers, name, letter string, boards int, candidate bool) ([]supplied, error) {
	r := f.drawn("faults " + name)
	truths := make([]string, boards)
	order := r.Perm(boards)
	next := 0
	put := func(share float64, draw func() string) {
		for range int(share*float64(boards) + 0.5) {
			truths[order[next]] = draw()
			next++
		}
	}
	if candidate {
		put(sharedEvery, func() string { return "shared-rd" })
	}
	var others []string
	for _, d := range twin.Faults() {
		if d.Applies(p.product) && d.Name != "shared-rd" {
			others = append(others, d.Name)
		}
	}
	put(otherEvery, func() string { return others[r.IntN(len(others))] })
	list := make([]supplied, boards)
	for i := range list {
		faults, err := twin.ParseFaults(truths[i])
		if err != nil {
			return nil, fmt.Errorf("demo: board %d of %s: %w", i+1, name, err)
		}
		list[i] = supplied{
			serial: fmt.Sprintf("%s-%05d", letter, i+1), lot: fmt.Sprintf("%s-2026-%02d", letter, 1+i*supplierLots/boards), supplier: name,
			faults: faults, truth: truths[i],
		}
		if candidate {
			list[i].made = float64(i) / float64(boards-1)
		}
	}
	return list, nil
}

// writeSupplierPlan records the margins before anything is tested.
func (f *demoFlags) writeSupplierPlan() error {
	var margins bytes.Buffer
	return errors.Join(csv.NewWriter(&margins).WriteAll(supplierMargins()), writeBelow(f.out, "margins.csv", margins.Bytes()))
}

// tolerances are the figures of a product that are drawn, with their names.
func tolerances(p *product.Product, each func(name string, v *wiring.Toleranced)) {
	for _, part := range []struct {
		name string
		of   reflect.Value
	}{
		{"terminations", reflect.ValueOf(&p.Terminations).Elem()}, {"port", reflect.ValueOf(&p.Port).Elem()},
		{"charger", reflect.ValueOf(&p.Charger).Elem()}, {"indicator", reflect.ValueOf(&p.Indicator).Elem()},
	} {
		for i := range part.of.NumField() {
			if v, ok := part.of.Field(i).Addr().Interface().(*wiring.Toleranced); ok {
				each(part.name+"."+part.of.Type().Field(i).Name, v)
			}
		}
	}
}

// factory is the product as a supplier makes it at one moment: what the twin of
// a nest draws its next board from.
func (f *demoFlags) factory(nominal *product.Product, s supplied) product.Product {
	p := *nominal
	p.Charger.FastCurrent.Nominal.SI *= 1 + currentDrift*s.made
	if !s.pinned {
		return p
	}
	// The twins of two nests would draw two boards for one serial. A board of the
	// gauge study is drawn here, and leaves them nothing to draw.
	tolerances(&p, func(name string, v *wiring.Toleranced) {
		if strings.HasPrefix(name, "charger.Lockout") {
			name = "charger.Lockout" // start and stop hang together
		}
		score := f.drawn("gauge "+s.serial+" "+name).NormFloat64() / 3
		v.Nominal.SI += v.HalfWidth() * min(max(score, -1), 1)
		v.Tolerance.SI = 0
	})
	return p
}

// firstShift is when a day of the act begins.
func (f *demoFlags) firstShift(day int) time.Time {
	return firstMorning(f.seed).AddDate(0, 0, day)
}

// decideSuppliers asks the ledger, and demands that the decision finds what the
// candidate was given, unless fewer boards were asked for.
func (f *demoFlags) decideSuppliers(c *cobra.Command) error {
	q := qualifyFlags{
		ledger: filepath.Join(f.out, "ledger.db"), product: defaultProduct, candidate: newSupplier, incumbent: demoSupplier,
		margins: filepath.Join(f.out, "margins.csv"), terms: qualification.DefaultTerms(),
		files: studyFiles{filepath.Join(f.out, "decision.html"), filepath.Join(f.out, "decision.pdf")},
	}
	d, err := q.decide(c)
	if err != nil {
		return err
	}
	if err := q.files.write(d.view()); err != nil {
		return err
	}
	var decision bytes.Buffer
	if err := printJSON(&decision, d.forProgram()); err != nil {
		return err
	}
	if err := errors.Join(writeBelow(f.out, "decision.json", decision.Bytes()), writeBelow(f.out, demoMark, decision.Bytes())); err != nil {
		return err
	}
	if f.json {
		_, err = c.OutOrStdout().Write(decision.Bytes())
	} else {
		err = f.tellSuppliers(c.OutOrStdout(), d)
	}
	if err != nil {
		return err
	}
	if missed := missedBy(d); missed != "" && d.Defects.Sides[0].N >= supplierBoards {
		return &outcome{code: exitBad, err: errors.New("the decision did not find " + missed)}
	}
	return nil
}

// missedBy says which of the two faults of the candidate the decision missed.
func missedBy(d qualified) string {
	var missed []string
	if d.Defects.Claim != qualification.Disproved {
		missed = append(missed, "the shared resistor")
	}
	drift := false
	for _, c := range d.Comparisons {
		drift = drift || strings.Contains(c.Name, "current") && c.Steady == qualification.Disproved
	}
	if !drift {
		missed = append(missed, "the drift of the charge current")
	}
	return strings.Join(missed, " and ")
}

func (f *demoFlags) tellSuppliers(w io.Writer, d qualified) error {
	if err := d.print(w); err != nil {
		return err
	}
	needed := 0
	for _, c := range d.Comparisons {
		if !c.ByLots {
			needed = max(needed, c.Needed)
		}
	}
	if missed := missedBy(d); missed != "" {
		fmt.Fprintf(w, "\n%d boards of each were too few to find %s.", d.Defects.Sides[0].N, missed)
	}
	_, err := fmt.Fprintf(w, `
%s was given one resistor for both CC pins on %g %% of its boards, and a charge
current that rises by %g %% from the first board to the last.
The claim about bad boards takes %d boards of each supplier, equivalence up to %d.
page:   %s
ledger: %s
`, newSupplier, 100*sharedEvery, 100*currentDrift, d.Defects.Needed, needed, filepath.Join(f.out, "decision.html"), filepath.Join(f.out, "ledger.db"))
	if err != nil {
		return fmt.Errorf("print the act: %w", err)
	}
	return nil
}
