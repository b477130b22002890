package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sinkproof/bench/quantity"
	"sinkproof/bench/twin"
	"sinkproof/reports/record"
	"sinkproof/scenarios"
	"sinkproof/scenarios/proving/golden"
)

// goldenAdd are the flags of sinkproof rig golden add.
type goldenAdd struct {
	goldenPlace
	product, scenario string
	serial, title     string
	fault, by         string
	good, likeLast    bool
	fails, mayFail    []string
	values            []string
	band              string
	valid             time.Duration
	json              bool
}

func newGoldenAdd() *cobra.Command {
	var f goldenAdd
	c := described(&cobra.Command{
		Use:   "add --serial S --by PERSON (--good | --fails CHECK,... | --like-last)",
		Short: "Registers a golden unit with its expected answer",
		Long: `Registers a unit with what it must answer on a rig that is in order. --good says
that it passes, --fails which checks must fail, --may-fail which may besides; no
other may. --like-last takes the answer from the last record of the serial: run
the unit once, look at the answer, then register it.

--value CHECK=LOW..HIGH also holds the value of a check to a range; with
--like-last, --value CHECK takes the range around what was measured.

On the twin --fault also says how the unit is built.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof rig golden add --serial GOLD-1 --good --by "A. Engineer"
  sinkproof rig golden add --serial GOLD-2 --fault no-rd --fails rd-cc1,rd-cc2 --may-fail legacy-cc,c-attach,c-cc,marked-attach --by "A. Engineer"
  sinkproof rig golden add --rig bench.hcl --serial G-7 --title "R12 not fitted" --like-last --value rd-cc1 --by "A. Engineer"`)
	fs := c.Flags()
	f.flags(fs)
	fs.StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	fs.StringVar(&f.scenario, "scenario", defaultScenario, "scenario `file`, or the name of a shipped scenario")
	fs.StringVar(&f.serial, "serial", "", "the unit's `serial`")
	fs.StringVar(&f.title, "title", "", "what unit it is, in `words`")
	fs.StringVar(&f.fault, "fault", "", "the known `fault`; on the twin one of run --list-faults")
	fs.StringVar(&f.by, "by", "", "`person` who answers for the expected answer")
	fs.BoolVar(&f.good, "good", false, "it passes")
	fs.BoolVar(&f.likeLast, "like-last", false, "it answers as in its last record")
	fs.StringArrayVar(&f.fails, "fails", nil, "`checks` that must fail, with commas between them; a name without brackets stands for all its rounds")
	fs.StringArrayVar(&f.mayFail, "may-fail", nil, "`checks` that may fail besides")
	fs.StringArrayVar(&f.values, "value", nil, "`CHECK=LOW..HIGH` that its value must lie in; with --like-last CHECK alone")
	fs.StringVar(&f.band, "band", "2 %", "half-width of the range around a measured value, in `proportion`")
	fs.DurationVar(&f.valid, "valid", golden.Valid, "for how long a good answer stands")
	fs.BoolVar(&f.json, "json", false, "print the registration")
	return c
}

func (f *goldenAdd) run(c *cobra.Command) (err error) {
	if err := f.complete(); err != nil {
		return err
	}
	p, err := load(f.rig, f.product, f.scenario, c.ErrOrStderr())
	if err != nil {
		return err
	}
	if !p.own {
		if _, err := twin.ParseFaults(f.fault); err != nil {
			return usage("sinkproof run --list-faults lists them", "--fault %s: %w", f.fault, err)
		}
	}
	s, err := f.desk(c, p)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	expected, err := f.expected(c.Context(), s)
	if err != nil {
		return err
	}
	if err := golden.Proven(expected, p.scenario); err != nil {
		return usage("", "%w", err)
	}
	g, err := f.golden(c.Context(), s, expected)
	if err != nil {
		return err
	}
	entry, err := s.ledger.RegisterGolden(c.Context(), g)
	if err != nil {
		return goldenTrouble(err)
	}
	if f.json {
		return printRaw(c.OutOrStdout(), entry.Body)
	}
	_, err = fmt.Fprintf(c.OutOrStdout(), "%s is a golden unit of %s for %s: %s\nA good answer stands for %s. The shift is closed until sinkproof rig golden check has run it.\n",
		g.Serial, g.Bench.Name, g.Product, expectedWords(g.Expected), quantity.Quantity{SI: f.valid.Hours(), Dim: quantity.Number}.Text(3)+" h")
	return err
}

func (f *goldenAdd) complete() error {
	ways := 0
	for _, given := range []bool{f.good, f.likeLast, len(f.fails) > 0} {
		if given {
			ways++
		}
	}
	switch {
	case f.serial == "":
		return usage("give the unit's serial: --serial S", "no serial")
	case f.by == "":
		return usage(`--by "A. Engineer"`, "somebody must answer for the expected answer")
	case ways != 1:
		return usage("--good, --fails CHECK,... or --like-last", "it must be said in one way what the unit answers")
	case f.good && f.fault != "":
		return usage("--fails names the checks that find the fault", "--good and --fault %s contradict each other", f.fault)
	case f.good && len(f.mayFail) > 0:
		return usage("", "--good and --may-fail contradict each other")
	case f.valid < time.Second:
		return usage("--valid 12h", "--valid %s: no answer would ever stand", f.valid)
	}
	return nil
}

// expected is the answer that was asked for.
func (f *goldenAdd) expected(ctx context.Context, s *station) (record.Expected, error) {
	e := record.Expected{Verdict: record.Pass, Fails: rounds(f.fails, s.papers.scenario), MayFail: rounds(f.mayFail, s.papers.scenario)}
	if len(f.fails) > 0 {
		e.Verdict = record.Fail
	}
	var last record.Run
	if f.likeLast {
		var err error
		if last, err = f.last(ctx, s); err != nil {
			return e, err
		}
		if e, err = golden.As(last); err != nil {
			return e, usage("run it again", "--like-last: %w", err)
		}
		e.MayFail = slices.DeleteFunc(rounds(f.mayFail, s.papers.scenario), func(name string) bool { return slices.Contains(e.Fails, name) })
	}
	for _, text := range f.values {
		v, err := f.value(text, last)
		if err != nil {
			return e, err
		}
		e.Values = append(e.Values, v)
	}
	return e, nil
}

// rounds reads names of checks with commas between them, of which there may be
// some inside of brackets. A name without brackets stands for every round that
// the scenario asks the check in.
func rounds(texts []string, sc *scenarios.Scenario) []string {
	var list []string
	for _, text := range texts {
		depth, from := 0, 0
		for i, r := range text + "," {
			switch r {
			case '[':
				depth++
			case ']':
				depth--
			case ',':
				if depth == 0 {
					list = append(list, roundsOf(strings.TrimSpace(text[from:i]), sc)...)
					from = i + 1
				}
			}
		}
		if depth != 0 {
			list = append(list, text[from:])
		}
	}
	return list
}

func roundsOf(name string, sc *scenarios.Scenario) []string {
	var all []string
	for _, c := range sc.Checks() {
		if c.Name == name {
			return []string{name}
		}
		if strings.HasPrefix(c.Name, name+"[") {
			all = append(all, c.Name)
		}
	}
	if len(all) == 0 {
		return []string{name}
	}
	return all
}

// last is the last record of the serial.
func (f *goldenAdd) last(ctx context.Context, s *station) (record.Run, error) {
	rows, err := s.ledger.History(ctx, f.serial)
	if err != nil {
		return record.Run{}, fmt.Errorf("look up %s: %w", f.serial, err)
	}
	for i := len(rows) - 1; i >= 0; i-- {
		if rows[i].ClosedSeq > 0 && !rows[i].Interrupted {
			r, _, err := s.ledger.Run(ctx, rows[i].Run)
			return r, err
		}
	}
	return record.Run{}, usage("sinkproof run --serial "+f.serial, "--like-last: the ledger holds no record of serial %q", f.serial)
}

// value reads CHECK=LOW..HIGH, or CHECK where there is a record.
func (f *goldenAdd) value(text string, last record.Run) (record.ExpectedValue, error) {
	name, span, ranged := strings.Cut(text, "=")
	if !ranged {
		band, err := quantity.ParseAs(f.band, quantity.Number)
		if err != nil || !(band.SI > 0) {
			return record.ExpectedValue{}, usage(`--band "2 %"`, "--band %s is no proportion", f.band)
		}
		if !f.likeLast {
			return record.ExpectedValue{}, usage("--value "+name+"=LOW..HIGH", "--value %s says no range", text)
		}
		v, err := golden.Around(last, name, band.SI)
		if err != nil {
			return v, usage("", "--value %s: %w", text, err)
		}
		return v, nil
	}
	low, high, ok := strings.Cut(span, "..")
	if !ok {
		return record.ExpectedValue{}, usage("--value "+name+`="5.05 kΩ..5.15 kΩ"`, "--value %s is no range", text)
	}
	from, err := quantity.Parse(low)
	var to quantity.Quantity
	if err == nil {
		to, err = quantity.ParseAs(high, from.Dim)
	}
	var unit string
	if err == nil {
		unit, err = record.Unit(from.Dim)
	}
	if err != nil {
		return record.ExpectedValue{}, usage("", "--value %s: %w", text, err)
	}
	return record.ExpectedValue{Check: name, Unit: unit, Lower: from.SI, Upper: to.SI}, nil
}

func (f *goldenAdd) golden(ctx context.Context, s *station, e record.Expected) (record.Golden, error) {
	before, err := s.ledger.GoldenUnits(ctx, s.bench)
	if err != nil {
		return record.Golden{}, fmt.Errorf("count the golden units: %w", err)
	}
	now := s.now()
	id, err := record.NewID(now, s.random("golden "+f.serial, len(before)+1))
	if err != nil {
		return record.Golden{}, fmt.Errorf("name the golden unit: %w", err)
	}
	title := f.title
	switch {
	case title != "":
	case f.fault != "":
		title = "board with " + f.fault
	case e.Verdict == record.Pass:
		title = "good board"
	default:
		title = "board that fails " + strings.Join(e.Fails, ", ")
	}
	return record.Golden{
		ID: id, Bench: s.bench, Made: record.Instant(now), By: f.by, Serial: f.serial, Product: s.papers.product.Name,
		Title: title, Fault: f.fault, Expected: e, ValidS: int64(f.valid / time.Second),
	}, nil
}

// expectedWords says in words what a golden unit answers.
func expectedWords(e record.Expected) string {
	parts := []string{string(e.Verdict)}
	if len(e.Fails) > 0 {
		parts = append(parts, strings.Join(e.Fails, ", ")+" must fail")
	}
	if len(e.MayFail) > 0 {
		parts = append(parts, strings.Join(e.MayFail, ", ")+" may fail")
	}
	for _, v := range e.Values {
		dim, err := record.Dimension(v.Unit)
		if err != nil {
			continue
		}
		of := func(si float64) string { return quantity.Quantity{SI: si, Dim: dim}.Text(5) }
		parts = append(parts, fmt.Sprintf("%s from %s to %s", v.Check, of(v.Lower), of(v.Upper)))
	}
	return strings.Join(parts, "; ")
}
