package ledger

import (
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"sinkproof/reports/record"
)

// The columns that are no checks. A check's column has the code of its name.
const (
	runColumn = iota
	failColumn
	serialColumn
	idColumn
	firstText
)

// Sizes of the rows: of a run, of a value of a check, of a fail, of an id.
const (
	runSize   = 44
	valueSize = 16
	failSize  = 8
	idSize    = 16
)

// What a bit of a run says.
const (
	twinFlag = 1 << iota
	cellFlag
)

// What kind of value a row has.
const (
	isValue = iota
	isBound
	isNone
)

// verdictCodes and answerCodes are how verdicts and answers stand in a row: their
// place in the list.
func verdictCodes() []record.Verdict {
	return []record.Verdict{"", record.Pass, record.Fail, record.None}
}

func answerCodes() []record.Answer {
	return []record.Answer{"", record.Passed, record.Failed, record.Unanswered}
}

// coded is the place of a word in its list; 0 for one that is not there.
func coded[T ~string](list []T, word T) byte {
	return byte(max(slices.Index(list, word), 0))
}

// openCircuit is the reading of the open-circuit voltage of a unit's own cell, as
// the scenarios call it.
const openCircuit = "open-circuit"

// dictionary numbers the texts of the columns in the order in which they come.
type dictionary struct {
	codes map[string]uint32
	// names are the texts by code. The first codes are columns without a text; the
	// empty text is 0.
	names []string
	// terms are the codes of terms, before they are made a text.
	terms map[termsKey]uint32
}

// termsKey tells terms apart; open sides are infinite.
type termsKey struct {
	check, title, unit string
	control            bool
	lower, upper       float64
}

func newDictionary() *dictionary {
	return &dictionary{map[string]uint32{}, make([]string, firstText), map[termsKey]uint32{}}
}

// add takes the next text.
func (d *dictionary) add(name string) uint32 {
	c := uint32(len(d.names))
	d.codes[name] = c
	d.names = append(d.names, name)
	return c
}

// code is the number of a text.
func (d *dictionary) code(name string) uint32 {
	if name == "" {
		return 0
	}
	c, known := d.codes[name]
	if !known {
		c = d.add(name)
	}
	return c
}

// name is the text of a number.
func (d *dictionary) name(code uint32) (string, error) {
	if int(code) >= len(d.names) {
		return "", fmt.Errorf("text %d is unknown: %w", code, ErrColumnsDamaged)
	}
	return d.names[code], nil
}

// The texts that are made of more than one word begin with what they are.
const (
	checkText = "check "
	termsText = "terms "
	placeText = "place "
)

// termsOf is the code of what a check's value was judged by.
func (d *dictionary) termsOf(c record.Check) uint32 {
	key := termsKey{c.Name, c.Title, "", c.Control, math.Inf(-1), math.Inf(1)}
	if c.Value != nil {
		key.unit = c.Value.Unit
	}
	if c.Lower != nil {
		key.lower = c.Lower.Value
	}
	if c.Upper != nil {
		key.upper = c.Upper.Value
	}
	code, known := d.terms[key]
	if !known {
		t := Terms{Check: key.check, Title: key.title, Unit: key.unit, Control: key.control}
		if c.Lower != nil {
			t.Lower = &key.lower
		}
		if c.Upper != nil {
			t.Upper = &key.upper
		}
		text, _ := json.Marshal(t) // texts and finite numbers
		code = d.code(termsText + string(text))
		d.terms[key] = code
	}
	return code
}

// readTerms reads the terms of a code.
func (d *dictionary) readTerms(code uint32) (*Terms, error) {
	name, err := d.name(code)
	if err != nil {
		return nil, err
	}
	t := &Terms{}
	if err := json.Unmarshal([]byte(strings.TrimPrefix(name, termsText)), t); err != nil {
		return nil, fmt.Errorf("terms %q: %w: %w", name, ErrColumnsDamaged, err)
	}
	return t, nil
}

// runRow appends the row of a run.
func (d *dictionary) runRow(b []byte, r record.Run, seq, at int64) []byte {
	b = binary.LittleEndian.AppendUint64(b, uint64(seq))
	b = binary.LittleEndian.AppendUint64(b, uint64(at))
	place := placeText + strconv.Itoa(max(r.Nest, 1)) + " " + r.Bench.Name
	for _, text := range []string{r.Product, r.Lot, r.Supplier, place, papersOf(r), wrongWith(r)} {
		b = binary.LittleEndian.AppendUint32(b, d.code(text))
	}
	flags := byte(0)
	if r.Bench.Kind == record.Twin {
		flags |= twinFlag
	}
	if slices.ContainsFunc(r.Readings, func(x record.Reading) bool { return x.Name == openCircuit }) {
		flags |= cellFlag
	}
	b = binary.LittleEndian.AppendUint16(b, uint16(min(r.Attempt, math.MaxUint16)))
	return append(b, coded(verdictCodes(), r.Verdict), flags)
}

// papersOf names the versions of the files that a run was made from.
func papersOf(r record.Run) string {
	var b strings.Builder
	for i, f := range r.Files {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(f.Name + " " + f.Version + " " + f.SHA256[:min(8, len(f.SHA256))])
	}
	return b.String()
}

// wrongWith is what is most likely wrong with a unit.
func wrongWith(r record.Run) string {
	if r.Verdict != record.Fail {
		return ""
	}
	if len(r.Suspects) > 0 {
		return r.Suspects[0].Title
	}
	for _, c := range r.Checks {
		if c.Answer == record.Failed {
			return c.Title
		}
	}
	return ""
}

// valueRow appends the row of a check of the run with this place in its block.
func (d *dictionary) valueRow(b []byte, place uint16, c record.Check) []byte {
	kind, value := byte(isNone), math.NaN()
	if c.Value != nil {
		kind, value = isValue, c.Value.Value
		if c.Value.Bound != "" {
			kind = isBound
		}
	}
	b = binary.LittleEndian.AppendUint16(b, place)
	b = append(b, coded(answerCodes(), c.Answer), kind)
	b = binary.LittleEndian.AppendUint32(b, d.termsOf(c))
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(value))
}

// failRow appends the row of a fail.
func failRow(b []byte, place uint16, check uint32) []byte {
	b = binary.LittleEndian.AppendUint16(b, place)
	b = append(b, 0, 0)
	return binary.LittleEndian.AppendUint32(b, check)
}

// idRow appends the row of an id, which is a UUID.
func idRow(b []byte, id string) ([]byte, error) {
	raw, err := hex.DecodeString(strings.ReplaceAll(id, "-", ""))
	if err != nil || len(raw) != idSize {
		return b, fmt.Errorf("id %q: %w", id, record.ErrForm)
	}
	return append(b, raw...), nil
}

// readID writes an id out again.
func readID(row []byte) string {
	h := hex.EncodeToString(row)
	return h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:]
}

// Places in the row of a run.
func rowSeq(row []byte) int64          { return int64(binary.LittleEndian.Uint64(row)) }
func rowStarted(row []byte) int64      { return int64(binary.LittleEndian.Uint64(row[8:])) }
func rowText(row []byte, i int) uint32 { return binary.LittleEndian.Uint32(row[16+4*i:]) }
func rowAttempt(row []byte) int        { return int(binary.LittleEndian.Uint16(row[40:])) }
func rowVerdict(row []byte) byte       { return row[42] }
func rowFlags(row []byte) byte         { return row[43] }
func rowPlace(row []byte) int          { return int(binary.LittleEndian.Uint16(row)) }
func rowCode(row []byte) uint32        { return binary.LittleEndian.Uint32(row[4:]) }
func rowValue(row []byte) float64      { return math.Float64frombits(binary.LittleEndian.Uint64(row[8:])) }

// readRun reads the row of a run.
func (d *dictionary) readRun(row []byte, t *Tested) error {
	*t = Tested{
		Seq: rowSeq(row), Started: time.UnixMicro(rowStarted(row)).UTC(), Attempt: rowAttempt(row),
		Twin: rowFlags(row)&twinFlag != 0, OwnCell: rowFlags(row)&cellFlag != 0,
	}
	var place string
	for i, into := range []*string{&t.Product, &t.Lot, &t.Supplier, &place, &t.Papers, &t.Wrong} {
		var err error
		if *into, err = d.name(rowText(row, i)); err != nil {
			return err
		}
	}
	nest, bench, ok := strings.Cut(strings.TrimPrefix(place, placeText), " ")
	n, err := strconv.Atoi(nest)
	if !ok || err != nil || int(rowVerdict(row)) >= len(verdictCodes()) {
		return fmt.Errorf("run of entry %d at %q: %w", t.Seq, place, ErrColumnsDamaged)
	}
	t.Nest, t.Bench, t.Verdict = n, bench, verdictCodes()[rowVerdict(row)]
	return nil
}
