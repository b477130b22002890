package statistics

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/cmd/sinkproof/statistics/columns"
)

// inputs say where values come from and how they are read.
type inputs struct {
	value, by string
	format    columns.Format
	ledger    fromLedger
	// repeated tells that the study wants every run of a serial.
	repeated bool
}

func (in *inputs) add(fs *pflag.FlagSet) {
	fs.StringVar(&in.value, "value", "", "`column` of the values; may be left out where only one is left")
	fs.StringVar(&in.by, "by", "", "make one study for each text in this `column`")
	addFormat(fs, &in.format)
	in.ledger.add(fs)
}

// addFormat adds how a table of numbers is written.
func addFormat(fs *pflag.FlagSet, f *columns.Format) {
	fs.BoolVar(&f.DecimalComma, "decimal-comma", false, "numbers are written 4,75")
	addShape(fs, f, "value")
}

// addShape adds which lines of a table count, by what they hold.
func addShape(fs *pflag.FlagSet, f *columns.Format, what string) {
	fs.BoolVar(&f.NoHeader, "no-header", false, "the first line holds "+what+"s; columns are called 1, 2, 3")
	fs.BoolVar(&f.SkipEmpty, "skip-empty", false, "leave out rows without a "+what)
}

// want is what a study asks of its source beside the values: columns of
// numbers, and columns of texts.
type want struct {
	numbers, texts []string
}

// entry is one row. It is valid until the next one.
type entry struct {
	value   float64
	numbers []float64
	// codes number the texts of each column in the order in which they came.
	codes []int32
}

// origin tells where values came from.
type origin struct {
	// source is the file or ledger, column the name of the values.
	source, column string
	// unit is the symbol of the values' unit; empty where the source has none.
	unit string
	// texts are the texts of each column that was asked for, by their codes.
	texts [][]string
	// left is how many rows were left out, and why.
	left    int
	leftWhy string
	// suspects is how many records were left out because a golden unit has put
	// them under a suspicion that nobody withdrew.
	suspects int
	// started dates the source; empty where nothing does.
	started string
	limits  limitsFound
	simulation
}

// title names the values for a heading.
func (o origin) title() string {
	if o.unit != "" && o.unit != "1" {
		return fmt.Sprintf("%s in %s, %s", o.column, o.unit, o.source)
	}
	return fmt.Sprintf("%s, %s", o.column, o.source)
}

// oneSource takes one file, or none where the ledger is asked.
func (in *inputs) oneSource(c *cobra.Command, args []string) error {
	switch {
	case in.ledger.path != "" && len(args) > 0:
		return trouble("one of the two", "both a file (%s) and --ledger", args[0])
	case in.ledger.path != "" && in.value != "" && in.value != "value":
		return trouble("the values of a ledger are those of --check", "--value %s with --ledger", in.value)
	case in.ledger.path != "":
		return nil
	case in.ledger.check != "":
		return trouble("--ledger FILE", "--check %s without --ledger", in.ledger.check)
	case len(args) == 0:
		return trouble(c.CommandPath()+" FILE --value COLUMN; - reads standard input", "no file of values")
	case len(args) > 1:
		return trouble("", "%s takes one file, found %q as well", c.CommandPath(), args[1])
	}
	return nil
}

// each gives every row of the source to take.
func (in *inputs) each(c *cobra.Command, args []string, w want, take func(entry) error) (origin, error) {
	if err := in.oneSource(c, args); err != nil {
		return origin{}, err
	}
	if in.ledger.path != "" {
		return in.ledger.each(c, in.repeated, w, take)
	}
	return in.eachOfFile(c, args[0], w, take)
}

// withTable opens a table and hands it to read, with its name for messages. A
// mistake in it becomes a Trouble.
func withTable(c *cobra.Command, path string, format columns.Format, read func(r *columns.Reader, name string) error) (err error) {
	name, file := filepath.Base(path), io.Reader(c.InOrStdin())
	if path == "-" {
		name = "standard input"
	} else {
		opened, err := os.Open(path)
		if err != nil {
			return trouble("name a file that can be read; - reads standard input", "%w", err)
		}
		defer func() { err = errors.Join(err, opened.Close()) }()
		file = opened
	}
	r, err := columns.NewReader(file, name, format)
	if err == nil {
		err = read(r, name)
	}
	return hinted(err)
}

func (in *inputs) eachOfFile(c *cobra.Command, path string, w want, take func(entry) error) (o origin, err error) {
	err = withTable(c, path, in.format, func(r *columns.Reader, name string) error {
		at, err := in.places(r, w)
		if err != nil {
			return err
		}
		o = origin{source: name, column: r.Names()[at.value], leftWhy: "without a value"}
		words := newTexts(len(w.texts))
		o.left, err = at.run(c.Context(), r, words, take)
		o.texts = words.texts
		return err
	})
	return o, err
}

// places are where the columns stand in a file.
type places struct {
	value          int
	numbers, texts []int
}

// places finds the columns. The value's may be left out where it is the only
// one that is not named otherwise.
func (in *inputs) places(r *columns.Reader, w want) (p places, err error) {
	for _, list := range []struct {
		names []string
		into  *[]int
	}{{w.numbers, &p.numbers}, {w.texts, &p.texts}} {
		for _, name := range list.names {
			at, err := r.Find(name)
			if err != nil {
				return p, err
			}
			*list.into = append(*list.into, at)
		}
	}
	if in.value != "" {
		p.value, err = r.Find(in.value)
	} else {
		p.value, err = r.Only(append(slices.Clone(w.numbers), w.texts...)...)
	}
	return p, err
}

// run reads the rows. It looks for an interruption now and then.
func (p places) run(ctx context.Context, r *columns.Reader, words *texts, take func(entry) error) (left int, err error) {
	e := entry{numbers: make([]float64, len(p.numbers)), codes: make([]int32, len(p.texts))}
	for n := 0; ; n++ {
		if n%4096 == 0 && ctx.Err() != nil {
			return left, ctx.Err()
		}
		if err := r.Next(); errors.Is(err, io.EOF) {
			return left, nil
		} else if err != nil {
			return left, err
		}
		if r.Empty(p.value) {
			left++
			continue
		}
		if e.value, err = r.Number(p.value); err != nil {
			return left, err
		}
		for i, at := range p.numbers {
			if e.numbers[i], err = r.Number(at); err != nil {
				return left, err
			}
		}
		for i, at := range p.texts {
			e.codes[i] = words.code(i, r.Text(at))
		}
		if err := take(e); err != nil {
			return left, err
		}
	}
}

// texts numbers the texts of columns in the order in which they come.
type texts struct {
	texts [][]string
	known []map[string]int32
	last  []int32
}

func newTexts(columns int) *texts {
	t := &texts{texts: make([][]string, columns), known: make([]map[string]int32, columns), last: make([]int32, columns)}
	for i := range t.known {
		t.known[i] = map[string]int32{}
	}
	return t
}

// code returns the number of a text in a column.
func (t *texts) code(column int, text []byte) int32 {
	list := t.texts[column]
	if last := t.last[column]; len(list) > 0 && list[last] == string(text) {
		return last
	}
	code, ok := t.known[column][string(text)]
	if !ok {
		code = int32(len(list))
		t.known[column][string(text)] = code
		t.texts[column] = append(list, string(text))
	}
	t.last[column] = code
	return code
}
