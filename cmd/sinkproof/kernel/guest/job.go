//go:build linux

package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"sync"
	"syscall"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// control is the control port with the programs that run.
type control struct {
	port
	mu   sync.Mutex
	jobs map[uint32]*job
}

// job is a running program.
type job struct {
	cmd   *exec.Cmd
	input io.WriteCloser
	// fed takes the bytes for the standard input, so that a program that does
	// not read holds up nobody.
	fed chan []byte
}

// serveControl does what the host asks for.
func serveControl(p port) error {
	c := &control{port: p, jobs: map[uint32]*job{}}
	c.send(wire.Frame{Kind: wire.Hello})
	return p.frames(c.take)
}

// send writes a frame; several goroutines do.
func (c *control) send(f wire.Frame) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := wire.Write(c.port, f); err != nil {
		fmt.Println("guest: control port:", err)
	}
}

func (c *control) sendJSON(kind wire.Kind, id uint32, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		fmt.Println("guest: control port:", err)
		return
	}
	c.send(wire.Frame{Kind: kind, ID: id, Body: body})
}

// take does one frame. The map of jobs is this goroutine's and, under the
// lock, that of the goroutine that waits for a program.
func (c *control) take(f wire.Frame) {
	switch f.Kind {
	case wire.Start:
		if err := c.start(f); err != nil {
			c.sendJSON(wire.Exited, f.ID, wire.Exit{Code: -1, Error: err.Error()})
		}
	case wire.Ask:
		var call wire.Call
		if err := json.Unmarshal(f.Body, &call); err != nil {
			c.sendJSON(wire.Answer, f.ID, wire.Reply{Error: err.Error()})
			return
		}
		go func() { c.sendJSON(wire.Answer, f.ID, answer(call)) }()
	case wire.Input, wire.InputEnd, wire.Signal:
		c.mu.Lock()
		j := c.jobs[f.ID]
		c.mu.Unlock()
		if j != nil {
			j.take(f)
		}
	}
}

func (j *job) take(f wire.Frame) {
	switch {
	case f.Kind == wire.Input:
		j.fed <- f.Body
	case f.Kind == wire.InputEnd:
		j.fed <- nil
	case len(f.Body) == 1:
		// An error says that the program has ended, which the host is told.
		_ = j.cmd.Process.Signal(syscall.Signal(f.Body[0]))
	}
}

// queued is how many pieces of input may wait for a program.
const queued = 64

func (c *control) start(f wire.Frame) error {
	var p wire.Program
	if err := json.Unmarshal(f.Body, &p); err != nil {
		return fmt.Errorf("which program: %w", err)
	}
	cmd := exec.Command(p.Path, p.Args...)
	cmd.Env, cmd.Dir = p.Env, p.Dir
	cmd.Stdout = stream{c, wire.Output, f.ID}
	cmd.Stderr = stream{c, wire.Trouble, f.ID}
	input, err := cmd.StdinPipe()
	if err != nil {
		return fmt.Errorf("start %s: %w", p.Path, err)
	}
	j := &job{cmd: cmd, input: input, fed: make(chan []byte, queued)}
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("start %s: %w", p.Path, err)
	}
	c.mu.Lock()
	c.jobs[f.ID] = j
	c.mu.Unlock()
	go j.feed()
	go c.wait(f.ID, j)
	return nil
}

// feed writes the standard input.
func (j *job) feed() {
	for b := range j.fed {
		if b == nil {
			j.input.Close()
			continue
		}
		// A program that has ended reads no more.
		_, _ = j.input.Write(b)
	}
}

func (c *control) wait(id uint32, j *job) {
	err := j.cmd.Wait()
	c.mu.Lock()
	delete(c.jobs, id)
	c.mu.Unlock()
	exit := wire.Exit{Code: j.cmd.ProcessState.ExitCode()}
	if status, ok := j.cmd.ProcessState.Sys().(syscall.WaitStatus); ok && status.Signaled() {
		exit.Signal = int(status.Signal())
	}
	var failed *exec.ExitError
	if err != nil && !errors.As(err, &failed) {
		exit.Error = err.Error()
	}
	c.sendJSON(wire.Exited, id, exit)
}

// stream sends what a program prints.
type stream struct {
	c    *control
	kind wire.Kind
	id   uint32
}

// Write sends a piece.
func (s stream) Write(b []byte) (int, error) {
	s.c.send(wire.Frame{Kind: s.kind, ID: s.id, Body: b})
	return len(b), nil
}
