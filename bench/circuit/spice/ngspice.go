package spice

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"sinkproof/bench/circuit"
)

// ErrMissing says what to install.
var ErrMissing = errors.New("ngspice not found: install the Debian package ngspice")

// ErrRun is wrapped by every failure of ngspice itself.
var ErrRun = errors.New("ngspice failed")

// Waves are the node voltages over time, counted from the instant of export.
// The instants are those that ngspice chose.
type Waves struct {
	Seconds []float64
	Volts   map[circuit.Node][]float64
}

// At returns a node voltage between the instants by linear interpolation. NaN
// for a node that was not exported.
func (w *Waves) At(n circuit.Node, t float64) float64 {
	v := w.Volts[n]
	if n == circuit.Ground {
		return 0
	}
	if len(v) == 0 {
		return math.NaN()
	}
	for i := 1; i < len(v); i++ {
		if w.Seconds[i] >= t {
			share := (t - w.Seconds[i-1]) / (w.Seconds[i] - w.Seconds[i-1])
			return v[i-1] + share*(v[i]-v[i-1])
		}
	}
	return v[len(v)-1]
}

// DC returns the operating point as ngspice finds it: capacitors open, contacts
// and chargers as they are. Groups without a path to ground are tied as in
// circuit.Sim.DCTied. Nodes on which nothing hangs are left out.
//
// Our solution is given to ngspice as a guess (.nodeset), which it drops before
// its last iterations: without one its Newton method stops at voltages far
// outside when an element has a flat characteristic there. A wrong guess is not
// kept (see the test), so that agreement remains a proof.
func DC(s *circuit.Sim, opts ...Option) (map[circuit.Node]float64, error) {
	d, _, err := restDeck(s, opts)
	if err != nil {
		return nil, err
	}
	waves, err := run(d.String(), d.nodes)
	if err != nil {
		return nil, err
	}
	return waves.first(), nil
}

// first returns the voltages of the first point, the only one at rest.
func (w *Waves) first() map[circuit.Node]float64 {
	volts := map[circuit.Node]float64{}
	for n, v := range w.Volts {
		volts[n] = v[0]
	}
	return volts
}

// restDeck is the input for DC, with the solution of the Sim itself.
func restDeck(s *circuit.Sim, opts []Option) (*deck, []float64, error) {
	start, tied, err := s.DCTied()
	if err != nil {
		return nil, nil, fmt.Errorf("export to ngspice: %w", err)
	}
	d := newDeck(s, "operating point", opts)
	for _, n := range tied {
		d.card("rt%d %s 0 %g", n, node(n), float64(circuit.TieOhms))
		d.use(n)
	}
	for n := circuit.Node(1); int(n) < s.Nodes(); n++ {
		if d.nodes[n] {
			d.card(".nodeset v(%s)=%.17g", node(n), start[n])
		}
	}
	d.card(".op")
	d.card(".end")
	return d, start, nil
}

// Transient runs ngspice from the present state for duration, with steps of at
// most step, both in seconds.
func Transient(s *circuit.Sim, duration, step float64, opts ...Option) (*Waves, error) {
	nodes := newDeck(s, "", opts).nodes
	for try := 0; ; try++ {
		text, err := Netlist(s, duration, step, append(opts[:len(opts):len(opts)], loosened(try))...)
		if err != nil {
			return nil, err
		}
		waves, err := run(text, nodes)
		if errors.Is(err, ErrRun) && try < len(strictness())-1 {
			continue
		}
		return waves, err
	}
}

// run gives a deck to ngspice and reads the voltages of the nodes back.
func run(text string, nodes map[circuit.Node]bool) (*Waves, error) {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		return nil, fmt.Errorf("%w (%w)", ErrMissing, err)
	}
	dir, err := os.MkdirTemp("", "deck")
	if err != nil {
		return nil, fmt.Errorf("folder for the netlist: %w", err)
	}
	defer func() { _ = os.RemoveAll(dir) }()
	if err := os.WriteFile(filepath.Join(dir, "deck.cir"), []byte(text), 0o600); err != nil {
		return nil, fmt.Errorf("write the netlist: %w", err)
	}
	cmd := exec.Command(program, "-b", "-r", "out.raw", "deck.cir")
	cmd.Dir = dir
	log, err := cmd.CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("%w: %w\n%s", ErrRun, err, log)
	}
	raw, err := os.ReadFile(filepath.Join(dir, "out.raw"))
	if err != nil {
		return nil, fmt.Errorf("%w: no result: %w\n%s", ErrRun, err, log)
	}
	w, err := parse(raw, nodes)
	if err != nil {
		return nil, fmt.Errorf("%w: %w\n%s", ErrRun, err, log)
	}
	return w, nil
}

// parse reads the binary raw file of one real analysis: a text header that
// names the variables, then all values of each point as little-endian float64
// (ngspice user's manual, version 39, "Output file formats").
func parse(raw []byte, nodes map[circuit.Node]bool) (*Waves, error) {
	head, data, ok := bytes.Cut(raw, []byte("Binary:\n"))
	if !ok {
		return nil, errors.New("raw file without a binary part")
	}
	var names []string
	points := 0
	listing := false
	for line := range strings.Lines(string(head)) {
		fields := strings.Fields(line)
		switch {
		case strings.HasPrefix(line, "No. Points:") && len(fields) > 2:
			points, _ = strconv.Atoi(fields[2])
		case strings.HasPrefix(line, "Variables:"):
			listing = true
		case listing && len(fields) >= 3:
			names = append(names, fields[1])
		}
	}
	if points <= 0 || len(names) == 0 || len(data)/8/len(names) < points {
		return nil, fmt.Errorf("raw file with %d points of %d variables in %d bytes", points, len(names), len(data))
	}
	of := map[string]circuit.Node{}
	for n := range nodes {
		of[node(n)] = n
	}
	w := &Waves{Volts: map[circuit.Node][]float64{}}
	for c, name := range names {
		column := make([]float64, points)
		for p := range column {
			column[p] = math.Float64frombits(binary.LittleEndian.Uint64(data[8*(p*len(names)+c):]))
		}
		if name == "time" {
			w.Seconds = column
		}
		if n, ok := of[strings.TrimSuffix(strings.TrimPrefix(name, "v("), ")")]; ok {
			w.Volts[n] = column
		}
	}
	return w, nil
}
