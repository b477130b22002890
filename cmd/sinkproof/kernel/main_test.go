//go:build kernel

package kernel

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
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
	return m.Run()
}

// boot starts a machine for one test and ends it with the test. A test that
// fails shows the console.
func boot(t *testing.T, o Options) *Machine {
	o.Folder, o.Init = t.TempDir(), shop.program("guest")
	if o.Programs == nil {
		o.Programs = map[string]string{"sinkproof": shop.program("sinkproof"), "linux.test": shop.program("linux.test")}
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
