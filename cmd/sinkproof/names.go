package main

import (
	"fmt"
	"path/filepath"
	"strings"
)

// folderName turns a serial into a name for a folder that every file system
// and every link takes: what is not a letter, a digit, "-", "_" or "." inside
// becomes "~" and two hexadecimal digits, so that two serials never share one.
func folderName(serial string) string {
	var b strings.Builder
	for i := 0; i < len(serial); i++ {
		c := serial[i]
		plain := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '_' || c == '.' && i > 0
		if plain {
			b.WriteByte(c)
			continue
		}
		fmt.Fprintf(&b, "~%02X", c)
	}
	return b.String()
}

// runFolder is where a run's record and reports lie below the output folder.
func runFolder(serial string, attempt int) string {
	return filepath.Join("units", folderName(serial), fmt.Sprintf("attempt-%d", attempt))
}
