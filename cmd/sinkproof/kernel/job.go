package kernel

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"syscall"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// Job is a program that runs in a machine.
type Job struct {
	id   uint32
	m    *Machine
	path string
	done chan struct{}

	mu           sync.Mutex
	output, said bytes.Buffer
	exit         wire.Exit
	changed      chan struct{} // closed and made anew with every piece of output
}

// Start runs a program.
func (m *Machine) Start(p wire.Program) (*Job, error) {
	body, err := json.Marshal(p)
	if err != nil {
		return nil, fmt.Errorf("start %s in the machine: %w", p.Path, err)
	}
	j := &Job{m: m, path: p.Path, done: make(chan struct{}), changed: make(chan struct{})}
	m.mu.Lock()
	m.next++
	j.id = m.next
	m.jobs[j.id] = j
	m.mu.Unlock()
	if err := m.control.send(wire.Frame{Kind: wire.Start, ID: j.id, Body: body}); err != nil {
		return nil, fmt.Errorf("start %s in the machine: %w", p.Path, err)
	}
	return j, nil
}

// take follows the program.
func (j *Job) take(f wire.Frame) {
	j.mu.Lock()
	defer j.mu.Unlock()
	switch f.Kind {
	case wire.Output:
		j.output.Write(f.Body)
	case wire.Trouble:
		j.said.Write(f.Body)
	case wire.Exited:
		if err := json.Unmarshal(f.Body, &j.exit); err != nil {
			j.exit = wire.Exit{Code: -1, Error: err.Error()}
		}
		j.m.mu.Lock()
		delete(j.m.jobs, j.id)
		j.m.mu.Unlock()
		close(j.done)
	}
	close(j.changed)
	j.changed = make(chan struct{})
}

// Wait waits for the end of the program.
func (j *Job) Wait(ctx context.Context) (wire.Exit, error) {
	select {
	case <-j.done:
	case <-j.m.ended:
		return wire.Exit{}, fmt.Errorf("wait for %s: the machine has ended: %w", j.path, ErrMachine)
	case <-ctx.Done():
		return wire.Exit{}, fmt.Errorf("wait for %s: %w\n%s", j.path, ctx.Err(), j.Said())
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.exit.Error != "" {
		return j.exit, fmt.Errorf("%s: %w", j.path, errors.New(j.exit.Error))
	}
	return j.exit, nil
}

// Await waits until a test of what the program has printed so far on its
// standard error is true.
func (j *Job) Await(ctx context.Context, what string, is func(said string) bool) error {
	for {
		j.mu.Lock()
		said, changed := j.said.String(), j.changed
		j.mu.Unlock()
		if is(said) {
			return nil
		}
		select {
		case <-changed:
		case <-j.done:
			if said := j.Said(); !is(said) {
				return fmt.Errorf("%s ended before %s:\n%s: %w", j.path, what, said, ErrMachine)
			}
			return nil
		case <-j.m.ended:
			return fmt.Errorf("%s: the machine ended before %s: %w", j.path, what, ErrMachine)
		case <-ctx.Done():
			return fmt.Errorf("%s: no %s:\n%s: %w", j.path, what, j.Said(), ctx.Err())
		}
	}
}

// Feed gives the program bytes on its standard input.
func (j *Job) Feed(text string) error {
	return j.m.control.send(wire.Frame{Kind: wire.Input, ID: j.id, Body: []byte(text)})
}

// Signal sends the program a signal.
func (j *Job) Signal(s syscall.Signal) error {
	return j.m.control.send(wire.Frame{Kind: wire.Signal, ID: j.id, Body: []byte{byte(s)}})
}

// Ended tells whether the program has ended.
func (j *Job) Ended() bool {
	select {
	case <-j.done:
		return true
	default:
		return false
	}
}

// Output is the program's standard output so far.
func (j *Job) Output() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.output.String()
}

// Said is the program's standard error so far.
func (j *Job) Said() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.said.String()
}

// Run runs a program to its end.
func (m *Machine) Run(ctx context.Context, p wire.Program) (*Job, wire.Exit, error) {
	j, err := m.Start(p)
	if err != nil {
		return nil, wire.Exit{}, err
	}
	exit, err := j.Wait(ctx)
	return j, exit, err
}
