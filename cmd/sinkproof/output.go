package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"sinkproof/reports/record"
)

// writeBelow writes a file below a folder and makes the folders on the way
// durable, so that no power cut leaves half a report under its name.
func writeBelow(folder, path string, data []byte) error {
	full := filepath.Join(folder, path)
	if err := makeFolder(filepath.Dir(full)); err != nil {
		return err
	}
	if err := record.WriteFile(full, data, 0o644); err != nil {
		return fmt.Errorf("write %s: %w", full, err)
	}
	return nil
}

// readyFolder makes the folder of a flag --out before anything is computed that
// could not be kept; empty is none.
func readyFolder(out string) error {
	if out == "" {
		return nil
	}
	if err := makeFolder(out); err != nil {
		return usage("name a folder with --out that may be written", "%w", err)
	}
	return nil
}

// makeFolder makes a folder and its parents, and the names of those durable.
func makeFolder(dir string) error {
	if at, err := os.Stat(dir); err == nil && !at.IsDir() {
		return fmt.Errorf("output folder: %s is a file", dir)
	} else if err == nil {
		return nil
	} else if !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("output folder: %w", err)
	}
	parent := filepath.Dir(dir)
	if err := makeFolder(parent); err != nil {
		return err
	}
	if err := os.Mkdir(dir, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("output folder: %w", err)
	}
	if err := record.SyncDir(parent); err != nil {
		return fmt.Errorf("output folder: %w", err)
	}
	return nil
}

// printJSON prints one object, indented, for a program to read.
func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return fmt.Errorf("print JSON: %w", err)
	}
	return nil
}
