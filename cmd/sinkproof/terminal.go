package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

	"github.com/mattn/go-isatty"

	"sinkproof/reports/record"
)

// screen writes the progress of runs: one line that is written over on a
// terminal, one line per check elsewhere.
type screen struct {
	w      io.Writer
	live   bool
	colour bool
	nest   string // stands before every line; empty where there is one
}

// of is the screen of one of several nests: lines only, each with its name.
func (s *screen) of(nest string, w *oneByOne) *screen {
	return &screen{w: w, colour: s.colour, nest: nest}
}

// oneByOne lets several nests write lines without mixing them.
type oneByOne struct {
	guard sync.Mutex
	w     io.Writer
}

// Write implements io.Writer.
func (o *oneByOne) Write(p []byte) (int, error) {
	o.guard.Lock()
	defer o.guard.Unlock()
	return o.w.Write(p)
}

// newScreen looks at where it writes. NO_COLOR (any value) turns colours off,
// as https://no-color.org asks.
func newScreen(w io.Writer) *screen {
	s := &screen{w: w}
	if p, ok := w.(*printed); ok {
		w = p.w
	}
	if f, ok := w.(*os.File); ok {
		s.live = isatty.IsTerminal(f.Fd()) && os.Getenv("TERM") != "dumb"
	}
	s.colour = s.live && os.Getenv("NO_COLOR") == ""
	return s
}

// The colours of a terminal by their meaning; the word always stands beside.
const (
	green  = "\x1b[32m"
	red    = "\x1b[31m"
	yellow = "\x1b[33m"
	reset  = "\x1b[0m"
	wipe   = "\r\x1b[K"
)

func (s *screen) paint(text, colour string) string {
	if !s.colour {
		return text
	}
	return colour + text + reset
}

// verdict sets a verdict off.
func (s *screen) verdict(v record.Verdict) string {
	switch v {
	case record.Pass:
		return s.paint(verdictWord(v), green)
	case record.Fail:
		return s.paint(verdictWord(v), red)
	}
	return s.paint(verdictWord(v), yellow)
}

func verdictWord(v record.Verdict) string {
	switch v {
	case record.Pass:
		return "PASS"
	case record.Fail:
		return "FAIL"
	}
	return "NO VERDICT"
}

// watch follows the events of a run until the feed is closed. It returns a
// function that waits for the last of them to be written.
func (s *screen) watch(ctx context.Context, serial string, feed *record.Feed) (wait func()) {
	var done sync.WaitGroup
	done.Go(func() {
		faulted := false
		for e := range feed.Events(ctx) {
			if a, ok := e.(record.Answered); ok && faulted && a.Answer == record.Unanswered {
				continue // the fault was said once; the record lists what it left open
			}
			_, fault := e.(record.Faulted)
			faulted = faulted || fault
			s.show(serial, e)
		}
	})
	return done.Wait
}

func (s *screen) show(serial string, e record.Event) {
	switch e := e.(type) {
	case record.Asked:
		if s.live {
			fmt.Fprintf(s.w, "%s%s  %d/%d  %s", wipe, serial, e.Number, e.Of, clipped(e.Title, 50))
		}
	case record.Answered:
		s.answered(serial, e)
	case record.Noted:
		s.line("%s  %s: %s", serial, e.Kind, e.Text)
	case record.Faulted:
		s.line("%s  %s %s", serial, s.paint("bench fault:", yellow), e.What)
	}
}

func (s *screen) answered(serial string, e record.Answered) {
	answer := string(e.Answer)
	switch {
	case s.live && e.Answer == record.Passed:
		return
	case e.Answer == record.Failed:
		answer = s.paint("FAIL", red)
	case e.Answer != record.Passed:
		answer = s.paint(answer, yellow)
	}
	text := e.Title
	if e.Value != nil {
		if q, err := e.Value.Quantity(); err == nil {
			text += ": " + q.Text(4)
		}
	}
	if e.Why != "" {
		text += " (" + e.Why + ")"
	}
	s.line("%s  %-10s %s", serial, answer, text)
}

// closed says the verdict. It is called when the record is committed: an operator
// puts the unit where the screen says.
func (s *screen) closed(run record.Run) {
	text := fmt.Sprintf("%s  %s  bin: %s", run.Serial, s.verdict(run.Verdict), run.Bin)
	if run.Reason != "" {
		text += "  " + run.Reason
	}
	s.line("%s", text)
}

// line prints a line of its own, over the live one where there is one.
func (s *screen) line(format string, args ...any) {
	if s.live {
		fmt.Fprint(s.w, wipe)
	}
	text := strings.TrimRight(fmt.Sprintf(format, args...), " ")
	if s.nest != "" {
		text = s.nest + "  " + text
	}
	fmt.Fprintln(s.w, text)
}

func clipped(text string, runes int) string {
	r := []rune(text)
	if len(r) <= runes {
		return text
	}
	return string(r[:runes-1]) + "…"
}
