package kernel

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// ErrMissing is the cause when the emulator or the kernel is not there.
var ErrMissing = errors.New("make test-kernel fetches it")

// Store is the folder in which .ci/kernel leaves what it fetched: vmlinux, the
// kernel as an ELF file, and modules.
func Store() (string, error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		return "", fmt.Errorf("where the kernel lies: %w", err)
	}
	return filepath.Join(cache, "sinkproof", "kernel"), nil
}

// modulesFor are the modules that a machine needs by what it has. What they
// depend on comes with them.
func modulesFor(o Options) []string {
	names := []string{"virtio_pci", "virtio_console", "virtio_rng"}
	if !o.NoBuses {
		names = append(names, "uhid", "hid-cp2112", "i2c-dev", "vhci-hcd", "i2c-tiny-usb")
	}
	if len(o.Disks) > 0 {
		names = append(names, "virtio_blk", "crc32c_generic", "ext4")
	}
	return names
}

// payload is what a machine finds in its memory.
type payload struct {
	modules  *modules
	init     []byte
	programs map[string][]byte
}

// newPayload collects modules and programs.
func newPayload(store string, o Options) (*payload, error) {
	m, err := findModules(filepath.Join(store, "modules"))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", err, ErrMissing)
	}
	for _, name := range modulesFor(o) {
		if err := m.take(name); err != nil {
			return nil, fmt.Errorf("%w: %w", err, ErrMissing)
		}
	}
	p := &payload{modules: m, programs: map[string][]byte{}}
	for inside, path := range o.Programs {
		if p.programs[inside], err = os.ReadFile(path); err != nil {
			return nil, fmt.Errorf("program %s of the machine: %w", inside, err)
		}
	}
	if p.init, err = os.ReadFile(o.Init); err != nil {
		return nil, fmt.Errorf("first program of the machine: %w", err)
	}
	return p, nil
}

// write makes the archive.
func (p *payload) write(path string) error {
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("the machine's memory: %w", err)
	}
	a := &archive{w: f}
	for _, name := range []string{"dev", "proc", "sys", "tmp", "etc", "bin", "modules"} {
		a.folder(name)
	}
	a.file("init", p.init)
	a.file("modules/list", []byte(strings.Join(p.modules.ordered, "\n")))
	for _, name := range p.modules.ordered {
		data, err := os.ReadFile(p.modules.paths[name])
		if err != nil {
			return errors.Join(fmt.Errorf("module %s: %w", name, err), f.Close())
		}
		a.file("modules/"+name, data)
	}
	for _, name := range sortedKeys(p.programs) {
		a.file("bin/"+name, p.programs[name])
	}
	return errors.Join(a.close(), f.Close())
}

// Build makes a static program from a package of this module, the way a release
// is made.
func Build(ctx context.Context, pkg, out string) error {
	return goTool(ctx, "build", "-trimpath", "-buildvcs=false", "-ldflags=-s -w -buildid=", "-o", out, pkg)
}

// BuildTest makes a static test program of a package.
func BuildTest(ctx context.Context, pkg, out string, tags ...string) error {
	return goTool(ctx, "test", "-c", "-tags", strings.Join(tags, ","), "-ldflags=-s -w", "-trimpath", "-buildvcs=false", "-o", out, pkg)
}

func goTool(ctx context.Context, args ...string) error {
	c := exec.CommandContext(ctx, "go", args...)
	c.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=amd64", "GOFLAGS=-mod=readonly")
	if said, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("go %s: %w\n%s", strings.Join(args, " "), err, said)
	}
	return nil
}

// stored is a file of the store.
func stored(store, name string) (string, error) {
	path := filepath.Join(store, name)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("%s is missing: %w", path, ErrMissing)
	}
	return path, nil
}
