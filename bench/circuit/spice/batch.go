package spice

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"sinkproof/bench/circuit"
)

// Batch compares many Sims in one process of ngspice: starting the program
// takes longer than most comparisons do.
type Batch struct{ jobs []job }

// job is one Sim with its two inputs for ngspice.
type job struct {
	sim            *circuit.Sim
	rest, time     string
	nodes, resting map[circuit.Node]bool
	ours           []float64 // at rest
	duration, step float64
}

// Agreement is how far a Sim of a batch and ngspice agree.
type Agreement struct {
	Rest, Time Difference
	// Alone counts the analyses, of the two, that ngspice had to repeat in a
	// process of their own, with looser error control if that is what it takes.
	Alone int
}

// Add puts a Sim in, to be compared at rest and over duration with steps of at
// most step, both in seconds. It belongs to the batch from now on.
func (b *Batch) Add(s *circuit.Sim, duration, step float64) error {
	rest, ours, err := restDeck(s, nil)
	if err != nil {
		return err
	}
	text, err := Netlist(s, duration, step)
	if err != nil {
		return err
	}
	b.jobs = append(b.jobs, job{
		sim: s, rest: rest.String(), time: text, nodes: newDeck(s, "", nil).nodes, resting: rest.nodes,
		ours: ours, duration: duration, step: step,
	})
	return nil
}

// Len is the number of Sims in the batch.
func (b *Batch) Len() int { return len(b.jobs) }

// Run compares all and empties the batch. The answers are in the order of Add.
func (b *Batch) Run() ([]Agreement, error) {
	jobs := b.jobs
	b.jobs = nil
	if len(jobs) == 0 {
		return nil, nil
	}
	dir, err := os.MkdirTemp("", "decks")
	if err != nil {
		return nil, fmt.Errorf("folder for the netlists: %w", err)
	}
	defer func() { _ = os.RemoveAll(dir) }()
	if err := analyse(dir, jobs); err != nil {
		return nil, err
	}
	out := make([]Agreement, len(jobs))
	for i := range jobs {
		if out[i], err = jobs[i].compare(dir, i); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// analyse writes all inputs and lets ngspice take them one after the other. It
// does not matter here whether each succeeds: see result.
func analyse(dir string, jobs []job) error {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		return fmt.Errorf("%w (%w)", ErrMissing, err)
	}
	var script strings.Builder
	script.WriteString("* a batch\n.control\n")
	write := func(name, text string) error {
		fmt.Fprintf(&script, "source %s.cir\nrun\nwrite %s.raw\ndestroy all\nremcirc\n", name, name)
		return os.WriteFile(filepath.Join(dir, name+".cir"), []byte(text), 0o600)
	}
	for i := range jobs {
		if err := errors.Join(write(restName(i), jobs[i].rest), write(timeName(i), jobs[i].time)); err != nil {
			return fmt.Errorf("write the netlists: %w", err)
		}
	}
	script.WriteString("quit 0\n.endc\n.end\n")
	if err := os.WriteFile(filepath.Join(dir, "batch.cir"), []byte(script.String()), 0o600); err != nil {
		return fmt.Errorf("write the batch: %w", err)
	}
	cmd := exec.Command(program, "-b", "batch.cir")
	cmd.Dir = dir
	if log, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%w: %w\n%s", ErrRun, err, log[max(0, len(log)-2000):])
	}
	return nil
}

func restName(i int) string { return fmt.Sprintf("rest%d", i) }
func timeName(i int) string { return fmt.Sprintf("time%d", i) }

// compare sets both answers beside the Sim's. An analysis that came to no end
// in the batch is repeated alone.
func (j *job) compare(dir string, i int) (a Agreement, err error) {
	if waves, ok := result(dir, restName(i), j.resting); ok {
		a.Rest = beside(j.sim, j.ours, waves.first())
	} else {
		a.Alone++
		if a.Rest, err = CompareDC(j.sim); err != nil {
			return a, err
		}
	}
	waves, ok := result(dir, timeName(i), j.nodes)
	if ok && len(waves.Seconds) > 0 && waves.Seconds[len(waves.Seconds)-1] >= j.duration*(1-1e-9) {
		a.Time, err = follow(j.sim, waves)
		return a, err
	}
	a.Alone++
	a.Time, err = Compare(j.sim, j.duration, j.step)
	return a, err
}

// result reads what ngspice has written. It is no result if the file is
// missing or does not hold every node: without an analysis of its own ngspice
// writes out its table of constants instead.
func result(dir, name string, nodes map[circuit.Node]bool) (*Waves, bool) {
	raw, err := os.ReadFile(filepath.Join(dir, name+".raw"))
	if err != nil {
		return nil, false
	}
	w, err := parse(raw, nodes)
	return w, err == nil && len(w.Volts) == len(nodes)
}
