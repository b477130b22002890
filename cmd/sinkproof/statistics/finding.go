package statistics

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sinkproof/reports/page"
	"sinkproof/reports/page/plot"
	"sinkproof/reports/record"
)

// finding is what a study found, for every way of showing it.
type finding struct {
	fields  fields
	section page.StudySection
	// draw makes the pictures, where a page is asked for.
	draw func() (figures, error)
	// judged tells that a judgement was asked, negative how it went, verdict
	// what it says.
	judged, negative bool
	verdict          string
}

// judge adds a judgement.
func (f *finding) judge(good bool, verdict string) {
	f.judged = true
	f.negative = f.negative || !good
	if f.verdict != "" {
		f.verdict += "; "
	}
	f.verdict += verdict
	f.fields.set("accepted", !f.negative)
}

// study is a command's answer: the finding, or one for each group.
type study struct {
	kind, title, started string
	// lead says what the study asks.
	lead   string
	method []string
	simulation
	// by names the column of the groups; empty where there are none.
	by       string
	groups   []string
	findings []finding
	// summary holds what only all groups together have.
	summary []page.StudySection
	drawAll func() (figures, error)
}

// outputs are the ways of showing a study.
type outputs struct {
	json      bool
	page, pdf string
}

func (o *outputs) add(fs *pflag.FlagSet) {
	fs.BoolVar(&o.json, "json", false, "print the answer for a program")
	fs.StringVar(&o.page, "page", "", "write a page with plots into this HTML `file`")
	fs.StringVar(&o.pdf, "pdf", "", "write the same as PDF into this `file`")
}

// show prints and writes the study. It ends with ErrNegative where a judgement
// is negative.
func (o *outputs) show(c *cobra.Command, s study) error {
	if err := o.write(c, s); err != nil {
		return err
	}
	w := c.OutOrStdout()
	if o.json {
		if err := printJSON(w, s.fields()); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(w, "%s: %s\n", s.kind, plot.Visible(s.title))
		if said := s.simulation.words(); said != "" {
			fmt.Fprintln(w, said)
		}
		for i, f := range s.findings {
			printSection(w, s.section(i))
			if f.judged {
				fmt.Fprintf(w, "\n%s\n", f.sentence())
			}
		}
		for _, section := range s.summary {
			printSection(w, section)
		}
	}
	for _, f := range s.findings {
		if f.negative {
			return ErrNegative
		}
	}
	return nil
}

// sentence is the judgement in words.
func (f finding) sentence() string {
	if f.negative {
		return "NO: " + f.verdict
	}
	return "YES: " + f.verdict
}

// section is the i-th finding under the name of its group.
func (s study) section(i int) page.StudySection {
	section := s.findings[i].section
	if s.by != "" {
		section.Title = s.by + " " + s.groups[i]
	}
	return section
}

// fields is the object for a program: that of the finding, or a list with one
// for each group.
func (s study) fields() fields {
	if s.by == "" {
		return s.simulation.field(s.findings[0].fields)
	}
	list := make([]fields, len(s.findings))
	for i, f := range s.findings {
		list[i] = append(fields{{name: "group", value: s.groups[i]}}, f.fields...)
	}
	return s.simulation.field(fields{{name: "by", value: s.by}, {name: "groups", value: listOf(list)}})
}

// write writes the pages that were asked for.
func (o *outputs) write(c *cobra.Command, s study) error {
	if o.page == "" && o.pdf == "" {
		return nil
	}
	if err := o.named(); err != nil {
		return err
	}
	view, err := s.view()
	if err != nil {
		return err
	}
	for _, out := range []struct {
		path string
		make func() ([]byte, error)
	}{{o.page, view.HTML}, {o.pdf, view.PDF}} {
		if out.path == "" {
			continue
		}
		data, err := out.make()
		if err != nil {
			return fmt.Errorf("make %s: %w", out.path, err)
		}
		if err := os.MkdirAll(filepath.Dir(out.path), 0o755); err != nil {
			return trouble("name a file in a folder that may be written", "write %s: %w", out.path, err)
		}
		if err := record.WriteFile(out.path, data, 0o644); err != nil {
			return trouble("name a file in a folder that may be written", "write %s: %w", out.path, err)
		}
		if !o.json {
			fmt.Fprintln(c.ErrOrStderr(), "written:", out.path)
		}
	}
	return nil
}

// named refuses names that are not those of a page: a slip must not write over
// the values themselves.
func (o *outputs) named() error {
	switch ext := strings.ToLower(filepath.Ext(o.page)); {
	case o.page != "" && ext != ".html" && ext != ".htm":
		return trouble("--page FILE.html", "--page %s is no name of a page", o.page)
	case o.pdf != "" && !strings.EqualFold(filepath.Ext(o.pdf), ".pdf"):
		return trouble("--pdf FILE.pdf", "--pdf %s is no name of a PDF", o.pdf)
	}
	return nil
}

// view is the study as a page shows it.
func (s study) view() (page.Study, error) {
	v := page.Study{Kind: s.kind, Title: s.title, Simulated: s.simulation.words(), Lead: s.lead, Method: s.method, Started: s.started, Tone: page.Plain}
	for i, f := range s.findings {
		section := s.section(i)
		if f.judged {
			v.Verdict, v.Tone = verdictOf(v, f)
			if s.by != "" {
				section.Lead = f.sentence() + ". " + section.Lead
			}
		}
		if f.draw != nil {
			figures, err := f.draw()
			if err != nil {
				return v, fmt.Errorf("draw: %w", err)
			}
			section.Figures, section.Lead = drawable(figures, section.Lead)
		}
		v.Sections = append(v.Sections, section)
	}
	if s.drawAll != nil {
		figures, err := s.drawAll()
		if err != nil {
			return v, fmt.Errorf("draw: %w", err)
		}
		figures, lead := drawable(figures, "")
		v.Sections = append(append([]page.StudySection{{Lead: lead, Figures: figures}}, s.summary...), v.Sections...)
		return v, nil
	}
	v.Sections = append(slices.Clone(s.summary), v.Sections...)
	return v, nil
}

// titled is a field with the title of its column.
type titled struct{ name, title string }

// overview lists all groups below each other with some of their numbers, those
// that any group has.
func (s *study) overview(numbers ...titled) {
	if s.by == "" {
		return
	}
	numbers = slices.DeleteFunc(numbers, func(n titled) bool {
		return !slices.ContainsFunc(s.findings, func(f finding) bool { return !math.IsNaN(f.fields.get(n.name)) })
	})
	t := page.StudyTable{Title: "All groups", Columns: []page.StudyColumn{left(s.by)}}
	for _, n := range numbers {
		t.Columns = append(t.Columns, right(n.title))
	}
	for i, f := range s.findings {
		cells := []string{s.groups[i]}
		for _, n := range numbers {
			cells = append(cells, show(f.fields.get(n.name)))
		}
		t.Rows = append(t.Rows, row(cells...))
	}
	s.summary = append(s.summary, page.StudySection{Tables: []page.StudyTable{t}})
}

// drawable leaves out pictures whose numbers no page can hold, and says so.
func drawable(list figures, lead string) (figures, string) {
	var kept figures
	for _, f := range list {
		if err := f.Validate(); err != nil {
			lead = strings.TrimSpace(lead + " A picture is left out: " + err.Error() + ".")
			continue
		}
		kept = append(kept, f)
	}
	return kept, lead
}

// verdictOf is the verdict over all groups so far: the worst.
func verdictOf(v page.Study, f finding) (string, page.Tone) {
	if f.negative && v.Tone != page.Bad {
		return f.sentence(), page.Bad
	}
	if v.Tone == page.Plain {
		return f.sentence(), page.Good
	}
	return v.Verdict, v.Tone
}
