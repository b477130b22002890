//go:build linux

package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"golang.org/x/sys/unix"

	"sinkproof/cmd/sinkproof/kernel/wire"
)

// answer does a call.
func answer(c wire.Call) wire.Reply {
	data, err := do(c)
	if err == nil {
		return wire.Reply{Data: data}
	}
	r := wire.Reply{Error: err.Error()}
	var errno syscall.Errno
	if errors.As(err, &errno) {
		r.Errno = int(errno)
	}
	return r
}

func do(c wire.Call) ([]byte, error) {
	switch c.Do {
	case wire.WriteFile:
		if err := os.MkdirAll(filepath.Dir(c.Path), 0o755); err != nil {
			return nil, err
		}
		return nil, os.WriteFile(c.Path, c.Data, os.FileMode(c.Mode))
	case wire.ReadFile:
		return os.ReadFile(c.Path)
	case wire.MakeFolder:
		return nil, os.MkdirAll(c.Path, 0o755)
	case wire.Remove:
		return nil, os.RemoveAll(c.Path)
	case wire.Mount:
		return nil, mount(c.Source, c.Path, c.Type, c.Flags, c.Options)
	case wire.Unmount:
		return nil, unix.Unmount(c.Path, 0)
	case wire.ListFolder:
		entries, err := os.ReadDir(c.Path)
		names := make([]string, 0, len(entries))
		for _, e := range entries {
			names = append(names, e.Name())
		}
		return []byte(strings.Join(names, "\n")), err
	}
	return nil, fmt.Errorf("unknown deed %q", c.Do)
}
