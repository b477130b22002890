package kernel

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// Options are what a machine is made of.
type Options struct {
	// Folder is where the machine may leave its archive: a temporary one.
	Folder string
	// Init is the guest program, built; Programs are more of them by their
	// names in the machine's /bin.
	Init     string
	Programs map[string]string
	// Disks are image files; the machine sees them as /dev/vda, /dev/vdb, ...
	Disks []Disk
	// NoBuses leaves the drivers of GPIO and I2C away, which saves half a second.
	NoBuses bool
	// Yielding lets everything else go first: nothing here has to be in time.
	Yielding bool
	// Megabytes of memory; zero means 512.
	Megabytes int
	// Resume is a state that Save has left: the machine goes on from there
	// instead of booting. Everything else must be as it was then.
	Resume string
	// Life is the longest time that the machine may live, against tests that
	// hang; zero means five minutes.
	Life time.Duration
}

// Disk is an image file. Whatever the machine has written to it has reached
// the file when the machine is killed; what it still held back is lost, as it
// is when the power of a computer is cut.
type Disk struct {
	Path     string
	ReadOnly bool
}

// Machine is a computer that runs.
type Machine struct {
	emulator *exec.Cmd
	control  *link
	hid, usb *link
	monitor  *link // the emulator's own
	console  *console
	plugs    sync.Once // the device ports are served from the first plug on
	devices  devices
	ended    chan struct{}
	stop     *time.Timer

	mu    sync.Mutex
	next  uint32
	jobs  map[uint32]*Job
	calls map[uint32]chan wire.Reply
}

// ErrMachine is the cause when a machine does not do as it should.
var ErrMachine = errors.New("the emulated machine failed")

// Boot starts a machine and returns when it is ready. Its console is in the
// error when it does not come up.
func Boot(ctx context.Context, o Options) (*Machine, error) {
	store, err := Store()
	if err != nil {
		return nil, err
	}
	vmlinux, err := stored(store, "vmlinux")
	if err != nil {
		return nil, err
	}
	p, err := newPayload(store, o)
	if err != nil {
		return nil, err
	}
	image := filepath.Join(o.Folder, "memory.cpio")
	if err := p.write(image); err != nil {
		return nil, err
	}
	m := &Machine{
		console: &console{}, ended: make(chan struct{}),
		jobs: map[uint32]*Job{}, calls: map[uint32]chan wire.Reply{},
	}
	if err := m.start(o, vmlinux, image); err != nil {
		return nil, err
	}
	if err := m.greeted(ctx, o.Resume != ""); err != nil {
		m.Kill()
		return nil, fmt.Errorf("%w\n%s", err, m.Console())
	}
	return m, nil
}

// longLife is how long a machine may live where nothing else is said.
const longLife = 5 * time.Minute

// cmdline is the kernel's command line. The time stamp counter of an emulated
// processor is steady, though the kernel cannot know; without it every look at
// the clock leaves the processor. An emulator that is held up for a moment fails
// the kernel's check of its timer, which ends in a panic. The rest leaves out what
// is slow.
const cmdline = "console=ttyS0 quiet panic=-1 reboot=t no_timer_check tsc=reliable clocksource=tsc mitigations=off nokaslr random.trust_cpu=on i8042.noaux i8042.nokbd"

// yielding is what nice adds for a machine that lets others go first: from the
// niceness of the test to that of an ordinary process.
const yielding = "20"

func (m *Machine) start(o Options, vmlinux, image string) error {
	megabytes := cmp.Or(o.Megabytes, 512)
	args := []string{
		"-accel", "tcg", "-cpu", "qemu64", "-M", "q35", "-m", strconv.Itoa(megabytes), "-nodefaults", "-no-reboot", "-no-user-config",
		"-display", "none", "-monitor", "none", "-serial", "stdio",
		"-kernel", vmlinux, "-initrd", image, "-append", cmdline,
		"-device", "virtio-serial-pci", "-device", "virtio-rng-pci",
	}
	for i, d := range o.Disks {
		id := "disk" + strconv.Itoa(i)
		drive := "file=" + strings.ReplaceAll(d.Path, ",", ",,") + ",format=raw,if=none,id=" + id
		if d.ReadOnly {
			drive += ",readonly=on"
		}
		args = append(args, "-drive", drive, "-device", "virtio-blk-pci,drive="+id)
	}
	var theirs []*os.File
	if o.Resume != "" {
		args = append(args, "-incoming", "exec:cat '"+o.Resume+"'")
	}
	for i, name := range []string{"control", "hid", "usb", "monitor"} {
		ours, other, err := socketPair(name)
		if err != nil {
			return err
		}
		theirs = append(theirs, other)
		l := newLink(ours)
		*[]**link{&m.control, &m.hid, &m.usb, &m.monitor}[i] = l
		args = append(args, "-chardev", fmt.Sprintf("socket,id=%s,fd=%d", name, 3+i))
		if l == m.monitor {
			args = append(args, "-mon", "chardev="+name+",mode=control")
			continue
		}
		args = append(args, "-device", "virtserialport,chardev="+name+",name="+name)
	}
	emulator := []string{"qemu-system-x86_64"}
	if o.Yielding {
		emulator = []string{"nice", "-n", yielding, emulator[0]}
	}
	m.emulator = exec.Command(emulator[0], append(emulator[1:], args...)...)
	m.emulator.ExtraFiles = theirs
	m.emulator.Stdout, m.emulator.Stderr = m.console, m.console
	m.emulator.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	err := m.emulator.Start()
	for _, f := range theirs {
		f.Close()
	}
	if err != nil {
		return fmt.Errorf("start the emulator: %w: %w", err, ErrMissing)
	}
	m.stop = time.AfterFunc(cmp.Or(o.Life, longLife), m.kill)
	go func() {
		// How it ended is of no interest; that it did ends everything else.
		_ = m.emulator.Wait()
		for _, l := range []*link{m.control, m.hid, m.usb, m.monitor} {
			l.conn.Close()
		}
		close(m.ended)
	}()
	return nil
}

// greeted waits for the guest, and then listens to it for good. A guest that
// goes on has greeted before: it has to answer.
func (m *Machine) greeted(ctx context.Context, before bool) error {
	up := make(chan error, 2)
	go func() {
		err := m.control.serve(func(f wire.Frame) { m.take(f, up) })
		up <- errors.Join(err, fmt.Errorf("its control port has ended: %w", ErrMachine))
	}()
	if before {
		_, err := m.Do(ctx, wire.Call{Do: wire.ListFolder, Path: "/"})
		return err
	}
	select {
	case err := <-up:
		return err
	case <-m.ended:
		return fmt.Errorf("it ended while it started: %w", ErrMachine)
	case <-ctx.Done():
		return fmt.Errorf("wait for the machine: %w", ctx.Err())
	}
}

// take handles what the guest says on its control port.
func (m *Machine) take(f wire.Frame, up chan<- error) {
	m.mu.Lock()
	job, call := m.jobs[f.ID], m.calls[f.ID]
	m.mu.Unlock()
	switch {
	case f.Kind == wire.Hello:
		up <- nil
	case f.Kind == wire.Answer && call != nil:
		var r wire.Reply
		if err := json.Unmarshal(f.Body, &r); err != nil {
			r.Error = err.Error()
		}
		call <- r
	case job != nil:
		job.take(f)
	}
}

// Console is what the machine has printed so far.
func (m *Machine) Console() string { return m.console.String() }

// Kill ends the machine at once, as a cut of its power does.
func (m *Machine) Kill() {
	m.kill()
	<-m.ended
}

func (m *Machine) kill() {
	m.stop.Stop()
	// An error says that it has ended.
	_ = m.emulator.Process.Kill()
}

// Alive tells whether the machine runs.
func (m *Machine) Alive() bool {
	select {
	case <-m.ended:
		return false
	default:
		return true
	}
}

// Do lets the guest do something itself.
func (m *Machine) Do(ctx context.Context, c wire.Call) ([]byte, error) {
	body, err := json.Marshal(c)
	if err != nil {
		return nil, fmt.Errorf("%s %s in the machine: %w", c.Do, c.Path, err)
	}
	answer := make(chan wire.Reply, 1)
	m.mu.Lock()
	m.next++
	id := m.next
	m.calls[id] = answer
	m.mu.Unlock()
	defer func() {
		m.mu.Lock()
		delete(m.calls, id)
		m.mu.Unlock()
	}()
	if err := m.control.send(wire.Frame{Kind: wire.Ask, ID: id, Body: body}); err != nil {
		return nil, fmt.Errorf("%s %s in the machine: %w", c.Do, c.Path, err)
	}
	select {
	case r := <-answer:
		return replied(c, r)
	case <-m.ended:
		return nil, fmt.Errorf("%s %s: the machine has ended: %w", c.Do, c.Path, ErrMachine)
	case <-ctx.Done():
		return nil, fmt.Errorf("%s %s in the machine: %w", c.Do, c.Path, ctx.Err())
	}
}

func replied(c wire.Call, r wire.Reply) ([]byte, error) {
	switch {
	case r.Error == "":
		return r.Data, nil
	case r.Errno != 0:
		return nil, fmt.Errorf("%s %s in the machine: %s: %w", c.Do, c.Path, r.Error, syscall.Errno(r.Errno))
	}
	return nil, fmt.Errorf("%s %s in the machine: %s: %w", c.Do, c.Path, r.Error, ErrMachine)
}

// Write writes a file inside, with its folders.
func (m *Machine) Write(ctx context.Context, path string, data []byte) error {
	_, err := m.Do(ctx, wire.Call{Do: wire.WriteFile, Path: path, Data: data, Mode: 0o644})
	return err
}

// Read reads a file inside.
func (m *Machine) Read(ctx context.Context, path string) ([]byte, error) {
	return m.Do(ctx, wire.Call{Do: wire.ReadFile, Path: path})
}

// Mount mounts a device inside; the folder is made.
func (m *Machine) Mount(ctx context.Context, device, folder, kind, options string) error {
	_, err := m.Do(ctx, wire.Call{Do: wire.Mount, Source: device, Path: folder, Type: kind, Options: options})
	return err
}

// Unmount takes a mount away.
func (m *Machine) Unmount(ctx context.Context, folder string) error {
	_, err := m.Do(ctx, wire.Call{Do: wire.Unmount, Path: folder})
	return err
}

// console keeps what the machine prints.
type console struct {
	mu   sync.Mutex
	text []byte
}

// Write keeps a piece.
func (c *console) Write(b []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.text = append(c.text, b...)
	return len(b), nil
}

// String returns what was printed.
func (c *console) String() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return string(c.text)
}

// link is the host's end of a port.
type link struct {
	conn net.Conn
	mu   sync.Mutex // of writes
}

func newLink(c net.Conn) *link { return &link{conn: c} }

// send sends frames in one piece.
func (l *link) send(frames ...wire.Frame) error {
	var b []byte
	for _, f := range frames {
		b = f.Append(b)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, err := l.conn.Write(b); err != nil {
		return fmt.Errorf("speak to the machine: %w", err)
	}
	return nil
}

// serve calls do for every frame until the port ends.
func (l *link) serve(do func(wire.Frame)) error {
	in := bufio.NewReaderSize(l.conn, 1<<16)
	for {
		f, err := wire.Read(in)
		if errors.Is(err, io.EOF) || errors.Is(err, net.ErrClosed) {
			return nil
		}
		if err != nil {
			return err
		}
		do(f)
	}
}

// socketPair makes two ends of a stream: ours, and one for the emulator.
func socketPair(name string) (net.Conn, *os.File, error) {
	pair, err := syscall.Socketpair(syscall.AF_UNIX, syscall.SOCK_STREAM|syscall.SOCK_CLOEXEC, 0)
	if err != nil {
		return nil, nil, fmt.Errorf("port %s of the machine: %w", name, err)
	}
	ours := os.NewFile(uintptr(pair[0]), name)
	theirs := os.NewFile(uintptr(pair[1]), name)
	conn, err := net.FileConn(ours)
	if err = errors.Join(err, ours.Close()); err != nil {
		return nil, nil, errors.Join(fmt.Errorf("port %s of the machine: %w", name, err), theirs.Close())
	}
	return conn, theirs, nil
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
