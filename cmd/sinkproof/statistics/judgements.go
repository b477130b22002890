package statistics

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"sinkproof/cmd/sinkproof/statistics/columns"
	"sinkproof/reports/page"
	"sinkproof/reports/quality/gauge"
)

// numbered numbers texts in the order in which they came.
type numbered struct {
	names []string
	at    map[string]int
}

// number is that of a text.
func (n *numbered) number(text string) int {
	i, ok := n.at[text]
	if !ok {
		if n.at == nil {
			n.at = map[string]int{}
		}
		i = len(n.names)
		n.at[text] = i
		n.names = append(n.names, text)
	}
	return i
}

// judgements are a table of them.
type judgements struct {
	source, column             string
	parts, appraisers, classes numbered
	// of are the classes that an appraiser put a part into, trial by trial.
	of [][][]int
	// truth is the class that a part is of; -1 where no reference is known.
	truth        []int
	trials, left int
}

// judgements reads the file.
func (f *agreementFlags) judgements(c *cobra.Command, args []string) (*judgements, error) {
	if err := oneFile(c, args); err != nil {
		return nil, err
	}
	j := &judgements{column: f.value}
	return j, withTable(c, args[0], f.format, func(r *columns.Reader, name string) error {
		j.source = name
		wanted := []string{f.part, f.appraiser, f.value}
		if f.reference != "" {
			wanted = append(wanted, f.reference)
		}
		at, err := found(r, wanted)
		if err != nil {
			return err
		}
		for {
			if err := r.Next(); errors.Is(err, io.EOF) {
				return c.Context().Err()
			} else if err != nil {
				return err
			}
			if r.Empty(at[2]) {
				j.left++
				continue
			}
			if err := j.take(r, at); err != nil {
				return err
			}
		}
	})
}

// oneFile takes one file; a ledger holds no judgements of this kind.
func oneFile(c *cobra.Command, args []string) error {
	switch len(args) {
	case 0:
		return trouble(c.CommandPath()+" FILE; - reads standard input", "no file")
	case 1:
		return nil
	}
	return trouble("", "%s takes one file, found %q as well", c.CommandPath(), args[1])
}

// found are the places of columns.
func found(r *columns.Reader, names []string) ([]int, error) {
	var list []int
	for _, name := range names {
		at, err := r.Find(name)
		if err != nil {
			return nil, err
		}
		list = append(list, at)
	}
	return list, nil
}

// wrong is a mistake in a cell of the present row.
func wrong(r *columns.Reader, file string, column int, hint, format string, args ...any) error {
	return &columns.Mistake{File: file, Line: r.Line(), Column: r.Names()[column], Problem: fmt.Sprintf(format, args...), Hint: hint}
}

// take takes one row.
func (j *judgements) take(r *columns.Reader, at []int) error {
	for _, column := range at {
		if len(r.Text(column)) == 0 {
			return wrong(r, j.source, column, "--skip-empty leaves rows without a judgement out", "empty, a text is wanted")
		}
	}
	part, who := j.parts.number(string(r.Text(at[0]))), j.appraisers.number(string(r.Text(at[1])))
	if part == len(j.truth) {
		j.truth = append(j.truth, -1)
	}
	if len(at) > 3 {
		text := string(r.Text(at[3]))
		class := j.classes.number(text)
		if known := j.truth[part]; known >= 0 && known != class {
			return wrong(r, j.source, at[3], "a part is of one class", "part %q is %q here and %q in a row before", j.parts.names[part], text, j.classes.names[known])
		}
		j.truth[part] = class
	}
	for len(j.of) <= who {
		j.of = append(j.of, nil)
	}
	for len(j.of[who]) <= part {
		j.of[who] = append(j.of[who], nil)
	}
	j.of[who][part] = append(j.of[who][part], j.classes.number(string(r.Text(at[2]))))
	return nil
}

// studied demands a study that is crossed and balanced, of two classes.
func (j *judgements) studied() error {
	if len(j.of) == 0 {
		return trouble("a table has a line of names, then one row per line", "%s: no value of %q", j.source, j.column)
	}
	if len(j.classes.names) < 2 {
		return trouble("choose parts of every class", "%s: zero spread: all judgements of %q are %q", j.source, j.column, j.classes.names[0])
	}
	j.trials = len(j.of[0][0])
	for i, who := range j.appraisers.names {
		for p, part := range j.parts.names {
			n := 0
			if p < len(j.of[i]) {
				n = len(j.of[i][p])
			}
			if n == 0 || n != j.trials {
				return trouble("every appraiser judges every part the same number of times", "%s: %q judged part %q %d times, %q judged part %q %d times: %w",
					j.source, who, part, n, j.appraisers.names[0], j.parts.names[0], j.trials, gauge.ErrUnbalanced)
			}
		}
	}
	return nil
}

// classWords name the classes, the first of many.
func (j *judgements) classWords() string {
	const most = 6
	list := j.classes.names
	more := ""
	if len(list) > most {
		list, more = list[:most], fmt.Sprintf(" and %d more", len(list)-most)
	}
	return "judged " + strings.Join(list, ", ") + more
}

func (j *judgements) leftRows() []page.Row {
	if j.left == 0 {
		return nil
	}
	return []page.Row{{Label: "left out", Text: counted(j.left, "row") + " without a judgement"}}
}
