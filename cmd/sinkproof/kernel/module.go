package kernel

import (
	"bytes"
	"debug/elf"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// modules finds the kernel's modules in a folder by their names.
type modules struct {
	paths map[string]string
	// ordered are the names of those that were taken, each behind what it
	// depends on.
	ordered []string
	taken   map[string]bool
}

// findModules looks through a folder of modules.
func findModules(folder string) (*modules, error) {
	m := &modules{paths: map[string]string{}, taken: map[string]bool{}}
	err := filepath.WalkDir(folder, func(path string, _ fs.DirEntry, err error) error {
		if name, ok := strings.CutSuffix(filepath.Base(path), ".ko"); ok {
			m.paths[moduleName(name)] = path
		}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("look for kernel modules: %w", err)
	}
	return m, nil
}

// moduleName is how the kernel writes the name of a module.
func moduleName(s string) string { return strings.ReplaceAll(s, "-", "_") }

// take adds a module behind what it depends on. A dependency that is no module
// is built into the kernel.
func (m *modules) take(name string) error {
	name = moduleName(name)
	if m.taken[name] {
		return nil
	}
	m.taken[name] = true
	path, ok := m.paths[name]
	if !ok {
		return fmt.Errorf("the kernel has no module %s: %w", name, fs.ErrNotExist)
	}
	needs, err := dependencies(path)
	if err != nil {
		return err
	}
	for _, n := range needs {
		if err := m.take(n); err != nil {
			return fmt.Errorf("needed by %s: %w", name, err)
		}
	}
	m.ordered = append(m.ordered, name)
	return nil
}

// dependencies reads what a module says that it depends on: the entry
// "depends=" of its section .modinfo, names joined by commas.
func dependencies(path string) ([]string, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read a module: %w", err)
	}
	defer f.Close()
	object, err := elf.NewFile(f)
	if err != nil {
		return nil, fmt.Errorf("read module %s: %w", path, err)
	}
	section := object.Section(".modinfo")
	if section == nil {
		return nil, fmt.Errorf("module %s says nothing about itself: %w", path, fs.ErrInvalid)
	}
	data, err := section.Data()
	if err != nil {
		return nil, fmt.Errorf("read module %s: %w", path, err)
	}
	for entry := range bytes.SplitSeq(data, []byte{0}) {
		if list, ok := strings.CutPrefix(string(entry), "depends="); ok && list != "" {
			return strings.Split(list, ","), nil
		}
	}
	return nil, nil
}
