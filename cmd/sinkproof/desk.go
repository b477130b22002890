package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// desk is one keyboard, or one scanner, for the nests of a rig. A line that is a
// nest's name or number answers what that nest has asked; where it has asked
// nothing it chooses the nest for the serial that follows, on the same line or the
// next.
type desk struct {
	out   io.Writer
	names []string
	lines chan string // closed at the end of the input
	ended bool

	asked   []bool
	answers []bool
	serials [][]string
	chosen  int // the nest of the next serial; -1 for none
}

// newDesk reads lines in a goroutine that outlives a cancelled run by at most the
// program, which ends then.
func newDesk(in io.Reader, out io.Writer, names []string) *desk {
	d := &desk{out: out, names: names, lines: make(chan string), chosen: -1,
		asked: make([]bool, len(names)), answers: make([]bool, len(names)), serials: make([][]string, len(names))}
	go func() {
		for lines := bufio.NewScanner(in); lines.Scan(); {
			d.lines <- lines.Text()
		}
		close(d.lines)
	}()
	return d
}

// nestNamed finds a nest by its name or its number; -1 for none.
func nestNamed(names []string, text string) int {
	if n, err := strconv.Atoi(text); err == nil && n >= 1 && n <= len(names) {
		return n - 1
	}
	return slices.Index(names, text)
}

// look takes what has come, without waiting.
func (d *desk) look() {
	for !d.ended {
		select {
		case text, more := <-d.lines:
			d.take(text, more)
		default:
			return
		}
	}
}

// wait takes one line, however long it takes to come.
func (d *desk) wait() {
	text, more := <-d.lines
	d.take(text, more)
}

func (d *desk) take(text string, more bool) {
	if !more {
		d.ended = true
		return
	}
	text = strings.TrimSpace(text)
	first, rest, _ := strings.Cut(text, " ")
	nest := nestNamed(d.names, first)
	switch rest = strings.TrimSpace(rest); {
	case text == "":
	case nest >= 0 && rest != "":
		d.serials[nest] = append(d.serials[nest], rest)
	case nest >= 0 && d.asked[nest]:
		d.asked[nest], d.answers[nest] = false, true
	case nest >= 0:
		d.chosen = nest
		fmt.Fprintf(d.out, "%s: scan the unit's serial.\n", d.names[nest])
	case d.chosen >= 0:
		d.serials[d.chosen] = append(d.serials[d.chosen], text)
		d.chosen = -1
	default:
		fmt.Fprintf(d.out, "%q names no nest: scan the nest first, one of %s.\n", text, strings.Join(d.names, ", "))
	}
}

// errNobody is the cause when the input has ended and a nest still asks.
var errNobody = fmt.Errorf("wait for the operator: %w", io.ErrUnexpectedEOF)

// ask asks for something to be done at a nest; scanning the nest answers.
func (d *desk) ask(nest int, what string) {
	d.asked[nest], d.answers[nest] = true, false
	fmt.Fprintf(d.out, "%s: %s, then scan the nest or type %d.\n", d.names[nest], what, nest+1)
}

// answered tells whether that was done.
func (d *desk) answered(nest int) bool { return d.answers[nest] }

// next is the next serial that was scanned for a nest.
func (d *desk) next(nest int) (string, bool) {
	if len(d.serials[nest]) == 0 {
		return "", false
	}
	serial := d.serials[nest][0]
	d.serials[nest] = d.serials[nest][1:]
	return serial, true
}

// hands are those at one nest of a desk.
type hands struct {
	desk *desk
	nest int
	rig  attended
}

func (h *hands) attend(rig attended) { h.rig = rig }

func (h *hands) Seat(ctx context.Context, serial string) error {
	return h.ask(ctx, "seat "+serial)
}

func (h *hands) Unseat(ctx context.Context, serial, why string) error {
	return h.ask(ctx, "take "+serial+" out ("+why+")")
}

func (h *hands) Reseat(ctx context.Context, serial, why string) error {
	return h.ask(ctx, "unplug "+serial+" and plug it again ("+why+")")
}

func (h *hands) SeatReceptacle(ctx context.Context, why string) error {
	return h.ask(ctx, "seat the check receptacle ("+why+")")
}

func (h *hands) TakeReceptacle(ctx context.Context) error {
	return h.ask(ctx, "take the check receptacle out")
}

// ask waits until the nest is scanned; it serves its interlocks all the while.
func (h *hands) ask(ctx context.Context, what string) error {
	h.desk.ask(h.nest, what)
	for {
		h.desk.look()
		if h.desk.answered(h.nest) {
			return nil
		}
		if h.desk.ended {
			return errNobody
		}
		if err := h.rig.Pause(ctx, asking); err != nil {
			return fmt.Errorf("wait for the operator: %w", err)
		}
	}
}
