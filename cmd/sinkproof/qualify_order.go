package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/fixtures/product"
	"sinkproof/reports/ledger"
	"sinkproof/reports/quality/qualification"
	"sinkproof/reports/record"
)

// gaugeLot is what stands in place of a lot at the boards of the gauge study.
const gaugeLot = "gauge study"

// qualifyOrder are the flags of sinkproof qualify order.
type qualifyOrder struct {
	goldenPlace
	product, by          string
	candidate, incumbent string
	lots                 [2][]string
	gauge                string
	gaugeBoards          int
	nests, days, seats   int
	order                string
	json                 bool
}

func newQualifyOrder() *cobra.Command {
	var f qualifyOrder
	c := described(&cobra.Command{
		Use:   "order --candidate SUPPLIER --candidate-lot LOT=FILE ... --incumbent SUPPLIER --incumbent-lot LOT=FILE ... --by PERSON",
		Short: "Draws in which order the boards of two suppliers are tested, before any is",
		Long: `A comparison of suppliers is worth what its order is: a nest, a day or a drift of the
bench that saw more boards of one side passes for the supplier. This draws the order:
both sides interleaved, each lot spread evenly over nests and days, and among them the
boards of the gauge study, each seated again and again in every nest on every day.

The order is an entry of the ledger's signed chain before any board is tested. It
follows from random bytes and from the entry before, so that nobody can choose it;
verification draws it again, and a board is drawn once. sinkproof qualify says whether
the runs followed it.

Each side sends three lots at least; a file lists the serials of a lot, one a line. The
boards of the gauge study are of the product, with the bench's cell substitute on
their pads, and stay the same throughout: --gauge FILE lists their serials, or
--gauge-boards N calls them G-01, G-02 and so on.

--order writes the turns as CSV: place, serial, supplier, lot, nest, day. Test them in
this order, the days of the order on days of their own:

  sinkproof run --serial SERIAL --supplier SUPPLIER --lot LOT

and --serial NEST=SERIAL on a rig with several nests. A board that the bench could not
judge is tested again at once. Boards of the gauge study take no supplier, and
--allowed-by from their third run on.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof qualify order --candidate "Board house B" --candidate-lot 2026-19=b19.txt --candidate-lot 2026-20=b20.txt --candidate-lot 2026-21=b21.txt --incumbent "Board house A" --incumbent-lot 7=a7.txt --incumbent-lot 8=a8.txt --incumbent-lot 9=a9.txt --nests 2 --days 3 --by "B. Buyer"`)
	fs := c.Flags()
	f.goldenPlace.flags(fs)
	f.orderFlags(fs)
	return c
}

func (f *qualifyOrder) orderFlags(fs *pflag.FlagSet) {
	fs.StringVar(&f.product, "product", defaultProduct, "product `file`, or the name of a shipped product")
	fs.StringVar(&f.candidate, "candidate", "", "the `supplier` that is to be qualified")
	fs.StringVar(&f.incumbent, "incumbent", "", "today's `supplier`")
	fs.StringArrayVar(&f.lots[0], "candidate-lot", nil, "`LOT=FILE`: a lot of the candidate with the file of its serials; given once for each")
	fs.StringArrayVar(&f.lots[1], "incumbent-lot", nil, "`LOT=FILE`: the same of the incumbent")
	fs.StringVar(&f.gauge, "gauge", "", "`file` with the serials of the gauge study's boards, one a line")
	fs.IntVar(&f.gaugeBoards, "gauge-boards", 5, "`number` of boards of the gauge study, called G-01, G-02 and so on")
	fs.IntVar(&f.nests, "nests", 1, "`number` of nests of the rig")
	fs.IntVar(&f.days, "days", 3, "`number` of days to test on")
	fs.IntVar(&f.seats, "seatings", 2, "how often each gauge board is seated in each nest on each day")
	fs.StringVar(&f.by, "by", "", "`person` who has it drawn")
	fs.StringVar(&f.order, "order", "", "write the order into this CSV `file` (default order.csv in the output folder)")
	fs.BoolVar(&f.json, "json", false, "print the order for a program")
}

func (f *qualifyOrder) complete() error {
	switch {
	case f.candidate == "" || f.incumbent == "":
		return usage("--candidate SUPPLIER --incumbent SUPPLIER", "which suppliers?")
	case f.candidate == f.incumbent:
		return usage("two suppliers are compared", "candidate and incumbent are both %q", f.candidate)
	case len(f.lots[0]) == 0 || len(f.lots[1]) == 0:
		return usage("--candidate-lot 2026-19=b19.txt, three of each side at least, and --incumbent-lot likewise", "which lots?")
	case f.by == "":
		return usage(`--by "B. Buyer"`, "somebody must answer for it: --by")
	case f.order == "":
		f.order = filepath.Join(f.out, "order.csv")
	case !strings.EqualFold(filepath.Ext(f.order), ".csv"):
		return usage("--order FILE.csv", "--order %s is no name of a CSV file", f.order) // a slip must not write over a list of serials
	}
	return nil
}

// asked is what the flags ask for.
func (f *qualifyOrder) asked() (o record.TestOrder, err error) {
	o = record.TestOrder{By: f.by, Candidate: f.candidate, Incumbent: f.incumbent, Nests: f.nests, Days: f.days, Seatings: f.seats}
	for side, supplier := range []string{f.candidate, f.incumbent} {
		for _, text := range f.lots[side] {
			lot, path, ok := strings.Cut(text, "=")
			if !ok || lot == "" || path == "" {
				return o, usage("LOT=FILE, as 2026-19=b19.txt", "lot %q names no file", text)
			}
			if filepath.Clean(path) == filepath.Clean(f.order) {
				return o, usage("--order names the file to write", "%s is to be read and written", path)
			}
			l := record.OrderedLot{Supplier: supplier, Lot: lot}
			if l.Serials, err = readSerials(path); err != nil {
				return o, err
			}
			o.Lots = append(o.Lots, l)
		}
	}
	if f.gauge != "" {
		o.Gauge, err = readSerials(f.gauge)
		return o, err
	}
	for i := range f.gaugeBoards {
		o.Gauge = append(o.Gauge, fmt.Sprintf("G-%02d", i+1))
	}
	return o, nil
}

// readSerials reads a list of serials, one a line.
func readSerials(path string) ([]string, error) {
	data, err := (&lotOpen{serials: path}).read(strings.NewReader(""))
	if err != nil {
		return nil, usage("name a file with serials, one a line", "read the serials: %w", err)
	}
	return serialList(path, data)
}

func (f *qualifyOrder) run(c *cobra.Command) (err error) {
	if err := f.complete(); err != nil {
		return err
	}
	ask, err := f.asked()
	if err != nil {
		return err
	}
	prod, _, err := product.Load(f.product)
	if err != nil {
		return usage("", "--product: %w", err)
	}
	ask.Product = prod.Name
	s, err := f.atRig(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	o, err := s.drawOrder(c.Context(), ask, s.now())
	if err != nil {
		return err
	}
	if err := writeOrder(f.order, o.TestOrder); err != nil {
		return err
	}
	return f.tell(c.OutOrStdout(), o)
}

// drawOrder commits an order; bench, id, instant and seed are filled in.
func (s *station) drawOrder(ctx context.Context, o record.TestOrder, at time.Time) (ledger.Order, error) {
	random := s.random(strings.Join([]string{"order", o.Product, o.Candidate, o.Incumbent}, "\n"), 1)
	id, err := record.NewID(at, random)
	if err != nil {
		return ledger.Order{}, fmt.Errorf("name the order: %w", err)
	}
	seed := make([]byte, 32)
	if _, err := io.ReadFull(random, seed); err != nil {
		return ledger.Order{}, fmt.Errorf("seed of the order: %w", err)
	}
	o.ID, o.Bench, o.Made, o.Seed = id, s.bench, record.Instant(at), hex.EncodeToString(seed)
	drawn, e, err := s.ledger.DrawOrder(ctx, o, qualification.DefaultTerms())
	switch {
	case errors.Is(err, qualification.ErrOrder), errors.Is(err, record.ErrInvalid):
		return ledger.Order{}, usage("sinkproof qualify order --help says what an order takes", "%w", err)
	case errors.Is(err, ledger.ErrOrder):
		return ledger.Order{}, usage("draw the order first, of boards that nobody has tested", "%w", err)
	case err != nil:
		return ledger.Order{}, ledgerTrouble(err)
	}
	return ledger.Order{TestOrder: drawn, Seq: e.Seq, Hash: e.Hash}, nil
}

// orderLines are the turns of an order as rows of a table.
func orderLines(o record.TestOrder) [][]string {
	type home struct{ supplier, lot string }
	of := map[string]home{}
	for _, l := range o.Lots {
		for _, s := range l.Serials {
			of[s] = home{l.Supplier, l.Lot}
		}
	}
	lines := [][]string{{"place", "serial", "supplier", "lot", "nest", "day"}}
	for i, t := range o.Turns {
		h, ok := of[t.Serial]
		if !ok {
			h.lot = gaugeLot
		}
		lines = append(lines, []string{strconv.Itoa(i + 1), t.Serial, h.supplier, h.lot, strconv.Itoa(t.Nest), strconv.Itoa(t.Day)})
	}
	return lines
}

// writeOrder writes an order as CSV.
func writeOrder(path string, o record.TestOrder) error {
	var b bytes.Buffer
	if err := csv.NewWriter(&b).WriteAll(orderLines(o)); err != nil {
		return fmt.Errorf("write the order: %w", err)
	}
	err := os.MkdirAll(filepath.Dir(path), 0o755)
	if err == nil {
		err = record.WriteFile(path, b.Bytes(), 0o644)
	}
	if err != nil {
		return usage("the order stands in the ledger; sinkproof ledger export gives it back", "write %s: %w", path, err)
	}
	return nil
}

// orderAnswer is a drawn order for a program.
type orderAnswer struct {
	Entry int64  `json:"entry"`
	Hash  string `json:"hash"`
	File  string `json:"file"`
	record.TestOrder
}

// tell shows a drawn order.
func (f *qualifyOrder) tell(w io.Writer, o ledger.Order) error {
	if f.json {
		return printJSON(w, orderAnswer{o.Seq, o.Hash, f.order, o.TestOrder})
	}
	boards := [2]int{}
	for _, l := range o.Lots {
		if l.Supplier == o.Candidate {
			boards[0] += len(l.Serials)
		} else {
			boards[1] += len(l.Serials)
		}
	}
	_, err := fmt.Fprintf(w, `order of entry %d, drawn %s by %s
  %s from %s and %s from %s, in %s
  %s of the gauge study, each %s in each nest on each day
  %s in %s on %s
written: %s
  next: test the turns in their order; sinkproof qualify says whether they were
`, o.Seq, o.Made, o.By, counted(boards[0], "board"), o.Candidate, counted(boards[1], "board"), o.Incumbent, counted(len(o.Lots), "lot"),
		counted(len(o.Gauge), "board"), counted(o.Seatings, "time"), counted(len(o.Turns), "turn"), counted(o.Nests, "nest"), counted(o.Days, "day"), f.order)
	return err
}
