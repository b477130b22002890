package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/fixtures/product"
	"sinkproof/reports/quality/sampling"
	"sinkproof/reports/record"
)

// mostUnits is how many units a lot may have: an entry of the chain holds all
// their serials, and is read back whole on a small computer. Own choice.
const mostUnits = 100_000

// lotOpen are the flags of sinkproof lot open.
type lotOpen struct {
	goldenPlace
	lotWords
	lotOutputs
	by, level     string
	aql           float64
	serials, from string
	size          int
}

func newLotOpen() *cobra.Command {
	var f lotOpen
	c := described(&cobra.Command{
		Use:   "open --lot L --supplier S --aql PERCENT --by PERSON (--serials FILE | --first SERIAL --size N)",
		Short: "Opens an incoming lot and draws the units to test",
		Long: `Draws which units of a lot are tested, and commits the draw to the ledger before
any of them can be. The severity follows from the supplier's lots of this product
before, the plan from the tables of ISO 2859-1 (single sampling). Nobody chooses
the units: they follow from random bytes and from the ledger's entry before, and
verification draws them again. A lot is drawn once.

--serials FILE lists the units of the lot, one serial a line (- for standard
input); --first with --size counts them up from a serial that ends in a number.

One lot of a supplier and a product is open at a time, since its outcome says how
hard the next one is inspected. Ends with code 4 where inspection of the supplier
was discontinued.`,
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c) },
	}, `  sinkproof lot open --lot 2026-19 --supplier "Board House" --aql 1 --serials packing-list.txt --by "A. Buyer"
  sinkproof lot open --lot 2026-20 --supplier "Board House" --aql 2.5 --level S-3 --first HL-0001 --size 500 --by "A. Buyer"`)
	fs := c.Flags()
	f.goldenPlace.flags(fs)
	f.lotWords.flags(fs)
	f.lotOutputs.flags(fs)
	fs.Lookup("supplier").Usage = "the `supplier` of the lot"
	fs.Lookup("product").Usage, fs.Lookup("product").DefValue = "product `file`, or the name of a shipped product", defaultProduct
	f.product = defaultProduct
	fs.StringVar(&f.by, "by", "", "`person` who opens it")
	fs.Float64Var(&f.aql, "aql", 0, "acceptance quality limit in `percent`, one of the standard's")
	fs.StringVar(&f.level, "level", "II", "inspection `level`: S-1, S-2, S-3, S-4, I, II or III")
	fs.StringVar(&f.serials, "serials", "", "`file` with the serials of the lot, one a line; - for standard input")
	fs.StringVar(&f.from, "first", "", "`serial` of the first unit, which ends in a number")
	fs.IntVar(&f.size, "size", 0, "`number` of units in the lot, counted from --first")
	return c
}

func (f *lotOpen) complete() error {
	switch {
	case f.lot == "":
		return usage("--lot 2026-19, as the supplier names it", "no lot")
	case f.supplier == "":
		return usage(`--supplier "Board House"`, "no supplier: its lots before say how hard this one is inspected")
	case f.by == "":
		return usage(`--by "A. Buyer"`, "somebody must answer for it: --by")
	case f.aql == 0:
		return usage(fmt.Sprintf("--aql 1; the standard has %v", sampling.Limits()), "no acceptance quality limit")
	case (f.serials == "") == (f.from == ""):
		return usage("--serials FILE, or --first HL-0001 --size 500", "it must be said in one way which units the lot has")
	case f.from == "" && f.size != 0:
		return usage("leave --size out", "--serials says how many units the lot has")
	}
	return nil
}

func (f *lotOpen) run(c *cobra.Command) (err error) {
	if err := f.complete(); err != nil {
		return err
	}
	if err := f.named(); err != nil {
		return err
	}
	serials, err := f.units(c.InOrStdin())
	if err != nil {
		return err
	}
	prod, _, err := product.Load(f.product)
	if err != nil {
		return usage("", "--product: %w", err)
	}
	s, err := f.atRig(c)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.ledger.Close()) }()
	name := record.LotName{Lot: f.lot, Supplier: f.supplier, Product: prod.Name}
	if err := f.draw(c.Context(), s, name, serials); err != nil {
		return err
	}
	shown, err := showable(c.Context(), &s.ledger.View, name)
	if err != nil {
		return err
	}
	return f.show(c, shown)
}

// draw commits the draw.
func (f *lotOpen) draw(ctx context.Context, s *station, name record.LotName, serials []string) error {
	now := s.now()
	random := s.random(strings.Join([]string{"lot", name.Product, name.Supplier, name.Lot}, "\n"), 1)
	id, err := record.NewID(now, random)
	if err != nil {
		return fmt.Errorf("name the draw: %w", err)
	}
	seed := make([]byte, 32)
	if _, err := io.ReadFull(random, seed); err != nil {
		return fmt.Errorf("seed of the draw: %w", err)
	}
	_, _, err = s.ledger.OpenLot(ctx, record.LotDraw{
		ID: id, Bench: s.bench, Made: record.Instant(now), By: f.by, LotName: name,
		Plan: record.LotPlan{Level: f.level, AQL: f.aql}, Seed: hex.EncodeToString(seed), Serials: serials,
	})
	if err != nil {
		return lotTrouble(err)
	}
	return nil
}

// units are the serials of the lot.
func (f *lotOpen) units(in io.Reader) ([]string, error) {
	if f.from != "" {
		return countedFrom(f.from, f.size)
	}
	data, err := f.read(in)
	if err != nil {
		return nil, usage("name the file with the serials: --serials FILE", "read the serials: %w", err)
	}
	return serialList(f.serials, data)
}

func (f *lotOpen) read(in io.Reader) ([]byte, error) {
	// A serial has 64 characters at most, and a line end.
	const most = mostUnits * 66
	if f.serials != "-" {
		file, err := os.Open(f.serials)
		if err != nil {
			return nil, err
		}
		defer file.Close()
		in = file
	}
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	if err == nil && len(data) > most {
		err = fmt.Errorf("more than %d bytes: no list of serials", most)
	}
	return data, err
}

// serialList reads one serial a line. Empty lines, a byte-order mark and the line
// ends of Windows are let pass.
func serialList(name string, data []byte) ([]string, error) {
	lines := bufio.NewScanner(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	var list []string
	seen := map[string]int{}
	for n := 1; lines.Scan(); n++ {
		serial := strings.TrimSpace(lines.Text())
		if serial == "" {
			continue
		}
		if err := record.ValidSerial(serial); err != nil {
			return nil, usage("one serial a line, nothing else", "%s: line %d: %w", name, n, err)
		}
		if seen[serial] > 0 {
			return nil, usage("every unit stands in the list once", "%s: line %d: serial %q stands in line %d already", name, n, serial, seen[serial])
		}
		seen[serial] = n
		list = append(list, serial)
	}
	if err := lines.Err(); err != nil {
		return nil, usage("one serial a line, nothing else", "%s: line %d: %w", name, len(list)+1, err)
	}
	return sized(list)
}

// countedFrom counts serials up from the first one, with as many digits.
func countedFrom(first string, size int) ([]string, error) {
	digits := len(first)
	for digits > 0 && first[digits-1] >= '0' && first[digits-1] <= '9' {
		digits--
	}
	from, err := strconv.Atoi(first[digits:])
	if err != nil {
		return nil, usage("--first HL-0001, or --serials FILE", "--first %q ends in no number to count from", first)
	}
	if size < 2 || size > mostUnits {
		return nil, usage("--size 500", "--size %d: a lot has 2 to %d units", size, mostUnits)
	}
	list := make([]string, size)
	for i := range list {
		list[i] = fmt.Sprintf("%s%0*d", first[:digits], len(first)-digits, from+i)
	}
	if err := record.ValidSerial(list[size-1]); err != nil {
		return nil, usage("a serial is 1 to 64 printable ASCII characters", "--first: %w", err)
	}
	return list, nil
}

func sized(list []string) ([]string, error) {
	if len(list) < 2 || len(list) > mostUnits {
		return nil, usage("one serial a line", "%s: a lot has 2 to %d", plural(len(list), "serial"), mostUnits)
	}
	return list, nil
}
