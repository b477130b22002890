//go:build kernel

package kernel

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// workshop is what the tests of this package share: the programs, built once.
type workshop struct{ folder string }

func (w workshop) program(name string) string { return filepath.Join(w.folder, name) }

var shop workshop

func TestMain(m *testing.M) {
	os.Exit(run(m))
}

func run(m *testing.M) int {
	folder, err := os.MkdirTemp("", "sinkproof-kernel-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	shop = workshop{folder}
	ctx := context.Background()
	for _, build := range []func() error{
		func() error { return Build(ctx, "sinkproof/cmd/sinkproof/kernel/guest", shop.program("guest")) },
		func() error { return Build(ctx, "sinkproof/cmd/sinkproof", shop.program("sinkproof")) },
		func() error { return BuildTest(ctx, "sinkproof/bench/linux", shop.program("linux.test"), "guest") },
	} {
		if err := build(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
	}
	defer func() {
		if shared.m != nil {
			shared.m.Kill()
		}
	}()
	return m.Run()
}

// shared is the machine that tests share which leave it as they found it, and
// run one after the other on it.
var shared struct {
	sync.Mutex
	once sync.Once
	m    *Machine
	err  error
}

// lend gives a test the shared machine for itself.
func lend(t *testing.T) *Machine {
	shared.Lock()
	t.Cleanup(shared.Unlock)
	shared.once.Do(func() {
		folder := filepath.Join(shop.folder, "shared")
		if shared.err = os.Mkdir(folder, 0o755); shared.err == nil {
			shared.m, shared.err = Boot(context.Background(), Options{Folder: folder, Init: shop.program("guest"), Programs: everything()})
		}
	})
	require.NoError(t, shared.err)
	before := len(shared.m.Console())
	t.Cleanup(func() {
		if t.Failed() {
			t.Log("console of the machine:\n" + shared.m.Console()[before:])
		}
	})
	return shared.m
}

// everything are the programs that were built.
func everything() map[string]string {
	return map[string]string{"sinkproof": shop.program("sinkproof"), "linux.test": shop.program("linux.test")}
}

// boot starts a machine for one test and ends it with the test. A test that
// fails shows the console.
func boot(t *testing.T, o Options) *Machine {
	o.Folder, o.Init = t.TempDir(), shop.program("guest")
	if o.Programs == nil {
		o.Programs = everything()
	}
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	m, err := Boot(ctx, o)
	require.NoError(t, err)
	t.Cleanup(func() {
		m.Kill()
		if t.Failed() {
			t.Log("console of the machine:\n" + m.Console())
		}
	})
	return m
}
