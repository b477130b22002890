package calibration

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"

	"sinkproof/bench/quantity"
	"sinkproof/bench/wiring"
)

// ErrScript is the cause when a file of reference readings cannot be used.
var ErrScript = errors.New("no readings of a reference")

// Script are readings of the reference that were written down before: a
// Reference that answers from a file.
type Script struct {
	// Plan are its points in the order of the file.
	Plan  []Point
	shown map[string]quantity.Quantity
}

// columns of a script.
func columns() []string { return []string{"channel", "state", "reference"} }

// ReadScript reads comma-separated lines of channel, state and reading under a
// head line, such as
//
//	channel,state,reference
//	vbus,"self-test-power[state = legacy]",5.0871 V
//
// The points of a channel must stand together. It wraps ErrScript, with the
// line.
func ReadScript(r io.Reader, w *wiring.Rig) (*Script, error) {
	in := csv.NewReader(r)
	in.FieldsPerRecord = len(columns())
	in.TrimLeadingSpace = true
	s := &Script{shown: map[string]quantity.Quantity{}}
	done := map[string]bool{}
	for n := 0; ; n++ {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("%w: %w", ErrScript, err)
		}
		line, _ := in.FieldPos(0)
		if n == 0 {
			for i, want := range columns() {
				if row[i] != want {
					return nil, fmt.Errorf("line %d: column %d is headed %q, must be %q: %w", line, i+1, row[i], want, ErrScript)
				}
			}
			continue
		}
		if err := s.add(w, row, done); err != nil {
			return nil, fmt.Errorf("line %d: %w: %w", line, ErrScript, err)
		}
	}
	if len(s.Plan) == 0 {
		return nil, fmt.Errorf("no line below the head: %w", ErrScript)
	}
	return s, nil
}

func (s *Script) add(w *wiring.Rig, row []string, done map[string]bool) error {
	p, err := Named(w, row[0], row[1])
	if err != nil {
		return err
	}
	q, err := quantity.ParseAs(row[2], Dim(p.Channel))
	if err != nil {
		return err
	}
	if n := len(s.Plan); n > 0 && !s.Plan[n-1].same(p) {
		done[s.Plan[n-1].line()] = true
	}
	if done[p.line()] {
		return fmt.Errorf("the points of channel %s do not stand together", p.line())
	}
	key := p.key()
	if _, twice := s.shown[key]; twice {
		return fmt.Errorf("channel %s in %s stands twice", p.Channel.Name, p.State())
	}
	s.shown[key] = q
	s.Plan = append(s.Plan, p)
	return nil
}

// line names the channel with its range.
func (p Point) line() string { return strings.TrimSpace(p.Channel.Name + " " + p.Range) }

func (p Point) key() string { return p.Channel.Name + "\n" + p.State() }

// Show implements Reference.
func (s *Script) Show(_ context.Context, p Point, _ quantity.Quantity) (quantity.Quantity, error) {
	q, ok := s.shown[p.key()]
	if !ok {
		return quantity.Quantity{}, fmt.Errorf("channel %s in %s: %w", p.Channel.Name, p.State(), ErrScript)
	}
	return q, nil
}

// WriteForm writes a script without readings, to be filled in.
func WriteForm(w io.Writer, plan []Point) error {
	out := csv.NewWriter(w)
	rows := [][]string{columns()}
	for _, p := range plan {
		rows = append(rows, []string{p.Channel.Name, p.State(), ""})
	}
	if err := out.WriteAll(rows); err != nil {
		return fmt.Errorf("write the form of a calibration: %w", err)
	}
	return nil
}
