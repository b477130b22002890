package kernel

import (
	"bytes"
	"fmt"
	"io"
)

// archive writes a cpio archive in the format "newc", which the kernel unpacks
// at its start (kernel documentation, driver-api/early-userspace/buffer-format).
type archive struct {
	w     io.Writer
	inode int
	err   error
}

// Modes of entries: the type of a file as in stat(2), with its rights.
const (
	folderMode  = 0o040755
	programMode = 0o100755
)

// folder adds a folder. Those above it must have been added.
func (a *archive) folder(name string) { a.entry(name, folderMode, nil) }

// file adds a file that may be run.
func (a *archive) file(name string, data []byte) { a.entry(name, programMode, data) }

// close ends the archive.
func (a *archive) close() error {
	a.entry("TRAILER!!!", 0, nil)
	return a.err
}

// entry writes a header of 13 numbers in hexadecimal, the name with its end,
// and the data, each filled up to a multiple of four bytes.
func (a *archive) entry(name string, mode int, data []byte) {
	if a.err != nil {
		return
	}
	a.inode++
	var head bytes.Buffer
	fmt.Fprintf(&head, "070701%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X",
		a.inode, mode, 0, 0, 1, 0, len(data), 0, 0, 0, 0, len(name)+1, 0)
	head.WriteString(name)
	head.WriteByte(0)
	head.Write(make([]byte, -head.Len()&3))
	for _, b := range [][]byte{head.Bytes(), data, make([]byte, -len(data)&3)} {
		if _, err := a.w.Write(b); err != nil {
			a.err = fmt.Errorf("write the archive's entry %s: %w", name, err)
			return
		}
	}
}
