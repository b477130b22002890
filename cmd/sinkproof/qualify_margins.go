package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"sinkproof/bench/quantity"
)

// mostMargins is the largest file of margins that is read.
const mostMargins = 1 << 20

// readMargins reads a file with a header "check,margin" and a line for each
// check that is compared. A margin is a quantity with its unit ("7 mA"), a number
// in the SI unit of the check, or nothing: 0, which stands for the default.
func readMargins(path string) (margins map[string]float64, err error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, usage("--margin FILE, two columns: check,margin", "margins: %w", err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	data, err := io.ReadAll(io.LimitReader(file, mostMargins+1))
	if err != nil {
		return nil, usage("", "margins %s: %w", path, err)
	}
	if len(data) > mostMargins {
		return nil, usage("two columns: check,margin", "margins %s: larger than 1 MiB", path)
	}
	return parseMargins(path, bytes.TrimPrefix(data, []byte("\ufeff")))
}

func parseMargins(name string, data []byte) (map[string]float64, error) {
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord, r.TrimLeadingSpace = 2, true
	lines, err := r.ReadAll()
	if err != nil {
		return nil, usage("two columns: check,margin; a check whose name has a comma stands in quotes", "margins %s: %w", name, err)
	}
	if len(lines) == 0 || !strings.EqualFold(lines[0][0], "check") || !strings.EqualFold(strings.TrimSpace(lines[0][1]), "margin") {
		return nil, usage("the first line is: check,margin", "margins %s: no header", name)
	}
	margins := map[string]float64{}
	for i, line := range lines[1:] {
		check, text := line[0], strings.TrimSpace(line[1])
		at := fmt.Sprintf("margins %s: line %d, check %q", name, i+2, check)
		if _, twice := margins[check]; twice {
			return nil, usage("one line for each check", "%s: named before", at)
		}
		if text == "" {
			margins[check] = 0
			continue
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			q, err := quantity.Parse(text)
			if err != nil {
				return nil, usage("a quantity such as 7 mA, or a number in the SI unit of the check", "%s: %w", at, err)
			}
			v = q.SI
		}
		if !(v > 0) || math.IsInf(v, 0) {
			return nil, usage("how far the means may lie apart, above 0", "%s: %q is no margin", at, text)
		}
		margins[check] = v
	}
	return margins, nil
}
