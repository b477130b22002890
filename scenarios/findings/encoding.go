package findings

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
)

// ErrFormat is the cause when bytes are no fault dictionary of this version.
var ErrFormat = errors.New("not a fault dictionary")

// format names the version of the file; another version is another file, and
// is made anew.
const format = "sinkproof-faults/1"

// mostBytes bounds what a file may unpack to.
const mostBytes = 32 << 20

// grain is the fineness of counts: parts of a unit are kept in 256ths.
const grain = 256

// file is a dictionary as it is kept: gzipped JSON.
type file struct {
	Format        string      `json:"format"`
	Key           string      `json:"key"`
	Classes       []Class     `json:"classes"`
	Units         []int       `json:"units"`
	Exponent      float64     `json:"exponent"`
	Ordinary      []float64   `json:"ordinary"`
	Spread        []float64   `json:"spread"`
	StrangerSlope float64     `json:"stranger_slope"`
	StrangerBase  float64     `json:"stranger_base"`
	Leaks         [][]float64 `json:"leaks"`
	Names         []fileName  `json:"names"`
}

type fileName struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Unit  string `json:"unit,omitempty"`
	// Channel is where a reading was taken that no check rests on alone.
	Channel string `json:"channel,omitempty"`
	Kinds   []int  `json:"kinds,omitempty"`
	// Spans are the ends of the spans of values, low and high in turn.
	Spans []float64 `json:"spans,omitempty"`
	// Usual are the ends of what each class gave, low and high in turn; low
	// above high where it gave nothing.
	Usual  []float64 `json:"usual"`
	First  int       `json:"first"`
	Second int       `json:"second"`
	// Contexts are the pairs of the parents' codes; Seen the counts under
	// them in 256ths: how many places to go on, and the count there, in turn.
	Contexts []uint16 `json:"contexts"`
	Seen     []int    `json:"seen"`
}

// Encode returns the dictionary as a file. The same dictionary gives the same
// bytes.
func (d *Dictionary) Encode() ([]byte, error) {
	f := file{
		Format: format, Key: d.Key, Classes: d.Classes, Exponent: d.exponent, Ordinary: d.ordinary, Spread: d.spread,
		StrangerSlope: d.strangerSlope, StrangerBase: d.strangerBase, Leaks: d.leaks,
	}
	for _, n := range d.counts.units {
		f.Units = append(f.Units, int(n))
	}
	for i := range d.names {
		f.Names = append(f.Names, d.fileName(i))
	}
	text, err := json.Marshal(f)
	if err != nil {
		return nil, fmt.Errorf("encode the fault dictionary: %w", err)
	}
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err == nil {
		_, err = w.Write(text)
		err = errors.Join(err, w.Close())
	}
	if err != nil {
		return nil, fmt.Errorf("pack the fault dictionary: %w", err)
	}
	return packed.Bytes(), nil
}

func (d *Dictionary) fileName(i int) fileName {
	n := d.names[i]
	out := fileName{
		Name: n.name, Title: n.title, Unit: n.unit, Channel: n.channel, First: d.counts.first[i], Second: d.counts.second[i], Contexts: d.counts.contexts[i],
		Spans: ends(n.spans), Usual: ends(n.usual),
	}
	for _, k := range n.kinds {
		out.Kinds = append(out.Kinds, int(k))
	}
	last := 0
	for at, x := range d.counts.seen[i] {
		if x > 0 {
			out.Seen = append(out.Seen, at-last, int(math.Round(x*grain)))
			last = at
		}
	}
	return out
}

func ends(list []span) []float64 {
	var out []float64
	for _, s := range list {
		out = append(out, s.low, s.high)
	}
	return out
}

// Hash returns the SHA-256 of an encoded dictionary in lower-case hexadecimal:
// what a record names it by.
func Hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// Decode reads an encoded dictionary. It wraps ErrFormat where the bytes are
// none, or one of another version.
func Decode(data []byte) (*Dictionary, error) {
	r, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("unpack the fault dictionary: %w: %w", err, ErrFormat)
	}
	text, err := io.ReadAll(io.LimitReader(r, mostBytes+1))
	if err != nil {
		return nil, fmt.Errorf("unpack the fault dictionary: %w: %w", err, ErrFormat)
	}
	if len(text) > mostBytes {
		return nil, fmt.Errorf("unpack the fault dictionary: more than %d bytes: %w", mostBytes, ErrFormat)
	}
	var f file
	if err := json.Unmarshal(text, &f); err != nil {
		return nil, fmt.Errorf("read the fault dictionary: %w: %w", err, ErrFormat)
	}
	d, err := f.dictionary()
	if err != nil {
		return nil, fmt.Errorf("read the fault dictionary: %w", err)
	}
	d.hash = Hash(data)
	d.finish()
	return d, nil
}
