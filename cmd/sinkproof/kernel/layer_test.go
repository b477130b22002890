//go:build kernel

package kernel

import (
	"context"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// plug plugs a world into a machine for one test.
func plug(t *testing.T, m *Machine, w World) *Plugged {
	p, err := m.Plug(t.Context(), w)
	require.NoError(t, err)
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), appearing)
		defer cancel()
		require.NoError(t, p.Unplug(ctx))
	})
	return p
}

// TestHardwareLayer runs the tests of bench/linux that need a kernel, inside,
// against the echo outside.
func TestHardwareLayer(t *testing.T) {
	m := lend(t)
	p := plug(t, m, NewEcho())
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	j, exit, err := m.Run(ctx, wire.Program{
		Path: "/bin/linux.test", Args: []string{"-test.v", "-test.run=^TestGuest", "-test.timeout=50s"}, Dir: "/tmp",
		Env: []string{"SINKPROOF_GUEST_I2C=" + strconv.Itoa(p.Bus), "SINKPROOF_GUEST_CHIP=" + p.Chip, "HOME=/tmp"},
	})
	require.NoError(t, err)
	require.Zero(t, exit.Code, "%s\n%s", j.Output(), j.Said())
	// A test program without its tests succeeds as well.
	require.Contains(t, j.Output(), "--- PASS: TestGuest")
	t.Log(strings.Join(passed(j.Output()), "\n"))
}

// passed are the lines of tests that passed.
func passed(output string) []string {
	var lines []string
	for line := range strings.Lines(output) {
		if strings.HasPrefix(line, "--- PASS") {
			lines = append(lines, strings.TrimSpace(line))
		}
	}
	return lines
}
