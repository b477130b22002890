package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// WriteFile writes a file so that after a loss of power the path holds either
// what it held before or all of the data: a temporary file in the same
// folder, synced, renamed over the path, and the folder synced, without which
// the rename itself can be lost.
func WriteFile(path string, data []byte, perm fs.FileMode) error {
	return writeFile(path, data, perm, SyncDir)
}

// writeFile is WriteFile with the syncing of the folder passed in, where a
// test can look on.
func writeFile(path string, data []byte, perm fs.FileMode, syncDir func(string) error) error {
	dir := filepath.Dir(path)
	temp, err := os.CreateTemp(dir, "."+filepath.Base(path)+"-*")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	err = fill(temp, data, perm)
	if err == nil {
		err = os.Rename(temp.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", path, errors.Join(err, os.Remove(temp.Name())))
	}
	if err := syncDir(dir); err != nil {
		return fmt.Errorf("write %s: sync its folder: %w", path, err)
	}
	return nil
}

// fill writes, syncs and closes the file.
func fill(f *os.File, data []byte, perm fs.FileMode) error {
	_, err := f.Write(data)
	if err == nil {
		err = f.Chmod(perm)
	}
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// SyncDir makes the names in a folder durable.
func SyncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
