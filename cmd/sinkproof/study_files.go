package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"sinkproof/reports/page"
	"sinkproof/reports/record"
)

// studyFiles are where an answer is written as a page and for printing.
type studyFiles struct{ page, pdf string }

func (s *studyFiles) add(fs *pflag.FlagSet, what string) {
	fs.StringVar(&s.page, "page", "", "write "+what+" as a page into this HTML `file`")
	fs.StringVar(&s.pdf, "pdf", "", "write "+what+" for printing into this PDF `file`")
}

// check refuses other names, so that a slip does not write over a ledger.
func (s *studyFiles) check() error {
	switch {
	case s.page != "" && !strings.EqualFold(filepath.Ext(s.page), ".html"):
		return usage("--page FILE.html", "--page %s is no name of a page", s.page)
	case s.pdf != "" && !strings.EqualFold(filepath.Ext(s.pdf), ".pdf"):
		return usage("--pdf FILE.pdf", "--pdf %s is no name of a PDF", s.pdf)
	}
	return nil
}

// wanted tells whether either was asked for.
func (s *studyFiles) wanted() bool { return s.page != "" || s.pdf != "" }

func (s *studyFiles) write(view page.Study) error {
	var errs []error
	for _, w := range []struct {
		path string
		make func() ([]byte, error)
	}{{s.page, view.HTML}, {s.pdf, view.PDF}} {
		if w.path == "" {
			continue
		}
		data, err := w.make()
		if err == nil {
			err = record.WriteFile(w.path, data, 0o644)
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("write %s: %w", w.path, err))
		}
	}
	return errors.Join(errs...)
}
