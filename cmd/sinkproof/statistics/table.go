package statistics

import (
	"github.com/spf13/cobra"
)

// table is a source in memory.
type table struct {
	origin
	values  []float64
	numbers [][]float64
	codes   [][]int32
}

// read takes the whole source into memory.
func (in *inputs) read(c *cobra.Command, args []string, w want) (*table, error) {
	t := &table{numbers: make([][]float64, len(w.numbers)), codes: make([][]int32, len(w.texts))}
	var err error
	t.origin, err = in.each(c, args, w, t.take)
	if err != nil {
		return nil, err
	}
	return t, t.enough(1)
}

func (t *table) take(e entry) error {
	t.values = append(t.values, e.value)
	for i, v := range e.numbers {
		t.numbers[i] = append(t.numbers[i], v)
	}
	for i, code := range e.codes {
		t.codes[i] = append(t.codes[i], code)
	}
	return nil
}

// enough demands a number of values.
func (t *table) enough(least int) error { return t.origin.enough(len(t.values), least) }

// enough demands a number of values of a source.
func (o origin) enough(n, least int) error {
	switch {
	case n >= least:
		return nil
	case n == 0 && o.leftOut() != "":
		return trouble("", "%s: no value of %q; left out: %s", o.source, o.column, o.leftOut())
	case n == 0:
		return trouble("a table has a line of names, then one row per line; flags may ask for nothing that is there", "%s: no value of %q", o.source, o.column)
	}
	return trouble("", "%s: %s of %q, at least %d are needed", o.source, counted(n, "value"), o.column, least)
}

// split parts the table by a column of texts, in the order in which they came.
// The parts keep the numbering of texts.
func (t *table) split(column int) []*table {
	parts := make([]*table, len(t.texts[column]))
	for i := range parts {
		parts[i] = &table{origin: t.origin, numbers: make([][]float64, len(t.numbers)), codes: make([][]int32, len(t.codes))}
		parts[i].source = t.source + ", " + t.texts[column][i]
	}
	for i, v := range t.values {
		p := parts[t.codes[column][i]]
		p.values = append(p.values, v)
		for j := range t.numbers {
			p.numbers[j] = append(p.numbers[j], t.numbers[j][i])
		}
		for j := range t.codes {
			p.codes[j] = append(p.codes[j], t.codes[j][i])
		}
	}
	return parts
}

// subgroups parts the values by a column of texts, with the texts that there
// are, both in the order in which they came.
func (t *table) subgroups(column int) (names []string, groups [][]float64) {
	place := make([]int, len(t.texts[column]))
	for i := range place {
		place[i] = -1
	}
	for i, v := range t.values {
		code := t.codes[column][i]
		if place[code] < 0 {
			place[code] = len(groups)
			names = append(names, t.texts[column][code])
			groups = append(groups, nil)
		}
		groups[place[code]] = append(groups[place[code]], v)
	}
	return names, groups
}

// studyEach makes the study of the whole table, or one of each part.
func (in *inputs) studyEach(t *table, s *study, byColumn int, make func(*table) (finding, error)) error {
	parts := []*table{t}
	if in.by != "" {
		s.by, s.groups = in.by, t.texts[byColumn]
		parts = t.split(byColumn)
	}
	for _, p := range parts {
		f, err := make(p)
		if err != nil {
			return err
		}
		s.findings = append(s.findings, f)
	}
	return nil
}

// grouped lists a column of groups before others, where one was asked for.
func (in *inputs) grouped(texts ...string) []string {
	if in.by == "" {
		return texts
	}
	return append(texts, in.by)
}
