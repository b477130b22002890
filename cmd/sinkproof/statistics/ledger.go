package statistics

import (
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/reports/ledger"
	"sinkproof/reports/quality/capability"
	"sinkproof/reports/record"
)

// fromLedger are the flags that make a ledger the source.
type fromLedger struct {
	path, check            string
	product, lot, supplier string
	since, until, attempts string
	suspects               bool
	// explain adds what to do about a trouble of the store.
	explain func(error) error
}

func (l *fromLedger) add(fs *pflag.FlagSet) {
	fs.StringVar(&l.path, "ledger", "", "take the values from this ledger `file`, with --check")
	fs.StringVar(&l.check, "check", "", "`name` of the check whose values are studied")
	fs.StringVar(&l.product, "product", "", "only units of this `product`")
	fs.StringVar(&l.lot, "lot", "", "only units of this `lot`")
	fs.StringVar(&l.supplier, "supplier", "", "only units of this `supplier`")
	fs.StringVar(&l.since, "since", "", "only runs from this `date` on, as 2026-05-31 or 2026-05-31T07:30:00Z")
	fs.StringVar(&l.until, "until", "", "only runs before this `date`")
	fs.BoolVar(&l.suspects, "suspects", false, "count records as well that a golden unit has put under suspicion")
	fs.StringVar(&l.attempts, "attempts", "", "which runs of a serial count: first or all (default first; all for a gauge study)")
}

// ledgerColumns are the texts that a ledger has for each value.
func ledgerColumns() []string {
	return []string{"serial", "product", "lot", "supplier", "bench", "nest", "day", "attempt", "run"}
}

// ledgerText is what a run has in a column.
func ledgerText(t *ledger.Tested, column string) string {
	switch column {
	case "serial":
		return t.Serial
	case "product":
		return t.Product
	case "lot":
		return t.Lot
	case "supplier":
		return t.Supplier
	case "bench":
		return t.Bench
	case "nest":
		return strconv.Itoa(t.Nest)
	case "day":
		return t.Started.Format(time.DateOnly)
	case "attempt":
		return strconv.Itoa(t.Attempt)
	}
	return t.ID
}

// limitsFound are the limits in the records of a check.
type limitsFound struct {
	seen, differ bool
	last         *ledger.Terms
	capability.Limits
}

func (l *limitsFound) see(t *ledger.Terms) {
	if t == l.last {
		return
	}
	l.last = t
	this := capability.Limits{Lower: math.Inf(-1), Upper: math.Inf(1), Target: math.NaN()}
	if t.Lower != nil {
		this.Lower = *t.Lower
	}
	if t.Upper != nil {
		this.Upper = *t.Upper
	}
	if l.seen && (this.Lower != l.Lower || this.Upper != l.Upper) {
		l.differ = true
	}
	l.seen, l.Limits = true, this
}

// question checks the flags.
func (l *fromLedger) question(repeated bool, w want) (ledger.Question, error) {
	q := ledger.Question{Check: l.check, Product: l.product, Lot: l.lot, Supplier: l.supplier, First: !repeated}
	if l.check == "" {
		return q, trouble("--check NAME, as the scenario calls it; sinkproof unit SERIAL --json names checks that failed", "--ledger without --check")
	}
	if len(w.numbers) > 0 {
		return q, trouble("make a CSV file of the counts", "a ledger has no column %q of numbers", w.numbers[0])
	}
	for _, name := range w.texts {
		if !slices.Contains(ledgerColumns(), name) {
			return q, trouble("a ledger has the columns "+strings.Join(ledgerColumns(), ", "), "no column %q", name)
		}
	}
	switch l.attempts {
	case "":
	case "first", "all":
		q.First = l.attempts == "first"
	default:
		return q, trouble("--attempts first, or all", "--attempts %q", l.attempts)
	}
	q.Names = slices.Contains(w.texts, "serial") || slices.Contains(w.texts, "run")
	var err error
	if q.Since, err = instant("since", l.since); err == nil {
		q.Until, err = instant("until", l.until)
	}
	return q, err
}

// instant reads a date or an instant; the zero time for none.
func instant(flag, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	for _, layout := range []string{time.DateOnly, time.RFC3339} {
		if at, err := time.Parse(layout, text); err == nil {
			return at, nil
		}
	}
	return time.Time{}, trouble("a date as 2026-05-31, or 2026-05-31T07:30:00Z", "--%s %q is no date", flag, text)
}

// each gives every value of the check to take. What the bench could not
// answer, and what is only a bound, is no value.
func (l *fromLedger) each(c *cobra.Command, repeated bool, w want, take func(entry) error) (o origin, err error) {
	ctx := c.Context()
	q, err := l.question(repeated, w)
	if err != nil {
		return o, err
	}
	values, err := ledger.OpenValues(ctx, l.path, Behind(c.ErrOrStderr(), l.path))
	if err != nil {
		return o, l.explain(err)
	}
	defer func() { err = errors.Join(err, values.Close()) }()
	if known := values.Checks(); len(known) > 0 && !slices.Contains(known, l.check) {
		return o, trouble("it has "+strings.Join(known, ", "), "%s: no value of %q: no run was asked that check", filepath.Base(l.path), l.check)
	}
	o = origin{source: filepath.Base(l.path), column: l.check, leftWhy: "that the bench could not answer, or of which only a bound is known"}
	words := newTexts(len(w.texts))
	e := entry{codes: make([]int32, len(w.texts))}
	var started time.Time
	var refused error
	err = values.Answers(ctx, q, func(t *ledger.Tested, a ledger.Answered) error {
		switch {
		case t.Suspect && !l.suspects:
			o.suspects++
			return nil
		case !a.Measured():
			o.left++
			return nil
		case o.unit != "" && o.unit != a.Unit:
			refused = trouble("study them apart with --product, --lot or --since", "%s: check %q gave values in %s and in %s", o.source, l.check, o.unit, a.Unit)
			return refused
		}
		o.unit, started, e.value = a.Unit, t.Started, a.Value
		o.limits.see(a.Terms)
		o.simulation.see(t.Twin)
		for i, name := range w.texts {
			e.codes[i] = words.code(i, []byte(ledgerText(t, name)))
		}
		refused = take(e)
		return refused
	})
	switch {
	case refused != nil:
		return o, refused
	case err != nil:
		return o, l.explain(err)
	}
	if !started.IsZero() {
		o.started = record.Instant(started)
	}
	o.texts = words.texts
	return o, nil
}

// patience is how many entries are read into columns before somebody would wonder:
// some seconds' work.
const patience = 50_000

// Behind returns what tells a person that the columns of a ledger are being made,
// where that takes a while.
func Behind(w io.Writer, path string) func(entries int64) {
	return func(entries int64) {
		if entries >= patience {
			fmt.Fprintf(w, "%s: %d entries are read into columns first, this once\n", filepath.Base(path), entries)
		}
	}
}

// orLimits takes the limits of the records where none are given.
func (o origin) orLimits(l capability.Limits) (capability.Limits, error) {
	if !math.IsInf(l.Lower, 0) || !math.IsInf(l.Upper, 0) || !o.limits.seen {
		return l, nil
	}
	if o.limits.differ {
		return l, trouble("--lower and --upper, or --since the change", "%s: the limits of check %q changed between the records", o.source, o.column)
	}
	found := o.limits.Limits
	found.Target = l.Target
	return found, nil
}

// leftOut tells of rows that were left out; empty where there are none.
func (o origin) leftOut() string {
	var parts []string
	if o.left > 0 {
		parts = append(parts, counted(o.left, "row")+" "+o.leftWhy)
	}
	if o.suspects > 0 {
		parts = append(parts, counted(o.suspects, "record")+" under suspicion (--suspects counts them)")
	}
	return strings.Join(parts, "; ")
}
