package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"sinkproof/bench"
)

// manager is a service manager: it hears what the service tells.
func manager(t *testing.T) func() string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "notify")
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, c.Close()) })
	t.Setenv("NOTIFY_SOCKET", path)
	return func() string {
		t.Helper()
		require.NoError(t, c.SetReadDeadline(time.Now().Add(10*time.Second)))
		buffer := make([]byte, 4096)
		n, err := c.Read(buffer)
		require.NoError(t, err)
		return string(buffer[:n])
	}
}

// TestGuardTellsTheServiceManager holds the guard to the protocol of
// sd_notify(3): READY once, a sign of life with every look, STOPPING at the
// end.
func TestGuardTellsTheServiceManager(t *testing.T) {
	hear := manager(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	answers := []error{
		nil,
		fmt.Errorf("line heartbeat is held by sinkproof 4711: %w", syscall.EBUSY),
		&bench.Fault{What: "wait", Thing: "vbus", Err: bench.ErrHeld},
		nil,
	}
	looks := 0
	var shown strings.Builder
	w := &watchman{every: time.Millisecond, screen: newScreen(&shown), look: func(context.Context) error {
		looks++
		return answers[(looks-1)%len(answers)]
	}}
	done := make(chan error, 1)
	go func() { done <- w.keep(ctx) }()
	require.Regexp(t, `^READY=1\nWATCHDOG=1\nSTATUS=safe`, hear())
	require.Regexp(t, `^WATCHDOG=1\nSTATUS=in use: line heartbeat is held by sinkproof 4711`, hear())
	require.Regexp(t, `^WATCHDOG=1\nSTATUS=.*VBUS is up`, hear())
	require.Regexp(t, `^WATCHDOG=1\nSTATUS=safe`, hear())
	cancel()
	last := hear()
	for last != "STOPPING=1" {
		last = hear()
	}
	require.NoError(t, <-done)
}

// TestGuardGivesUpOnABenchFault leaves it to the service manager to try again.
func TestGuardGivesUpOnABenchFault(t *testing.T) {
	hear := manager(t)
	gone := &bench.Fault{What: "identify the chip", Thing: "adc1", Hint: "Check the wires.", Err: syscall.ENXIO}
	w := &watchman{every: time.Millisecond, screen: newScreen(&strings.Builder{}), look: func(context.Context) error { return gone }}
	err := w.keep(context.Background())
	require.ErrorIs(t, err, syscall.ENXIO)
	require.Contains(t, hear(), "STATUS=")
	require.Equal(t, "STOPPING=1", hear())
	var o *outcome
	require.True(t, errors.As(err, &o))
	require.Equal(t, exitNoJudge, o.code)
	require.Equal(t, "Check the wires.", o.hint)
}
