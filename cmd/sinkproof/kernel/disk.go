package kernel

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
)

// sectorSize is what a disk writes whole or not at all: 512 bytes (ATA command
// set, logical sector; common practice for disks and cards).
const sectorSize = 512

// Platter is a disk with a volatile cache, over an image file. What was written
// is read back at once, and is safe only after a flush. When the power is cut,
// some of the sectors that were not flushed have reached the file, and the
// others are lost: which ones, chance decides.
type Platter struct {
	image *os.File
	size  int64

	mu    sync.Mutex
	cache map[int64][]byte // sectors that were not flushed, by number
	dead  bool
	// left is how many writes are taken until the power fails, 0 for no end;
	// failed is closed then.
	left   int
	failed chan struct{}
}

// ErrPowerless is the cause when a disk is used whose power was cut.
var ErrPowerless = errors.New("the power of the disk is cut")

// ErrUnaligned is the cause when a transfer is not made of whole sectors.
var ErrUnaligned = errors.New("not whole sectors")

// OpenPlatter opens a disk over an image file.
func OpenPlatter(path string) (*Platter, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, fmt.Errorf("disk: %w", err)
	}
	info, err := f.Stat()
	if err != nil {
		return nil, errors.Join(fmt.Errorf("disk %s: %w", path, err), f.Close())
	}
	return &Platter{image: f, size: info.Size(), cache: map[int64][]byte{}}, nil
}

func (d *Platter) check(at int64, n int) error {
	switch {
	case d.dead:
		return ErrPowerless
	case at%sectorSize != 0 || n%sectorSize != 0:
		return fmt.Errorf("%d bytes at %d: %w", n, at, ErrUnaligned)
	case at < 0 || at+int64(n) > d.size:
		return fmt.Errorf("%d bytes at %d of %d: %w", n, at, d.size, io.ErrUnexpectedEOF)
	}
	return nil
}

// ReadAt reads whole sectors, the last that was written of each.
func (d *Platter) ReadAt(b []byte, at int64) (int, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.check(at, len(b)); err != nil {
		return 0, err
	}
	if n, err := d.image.ReadAt(b, at); err != nil {
		return n, err
	}
	for i := 0; i < len(b); i += sectorSize {
		if s, ok := d.cache[(at+int64(i))/sectorSize]; ok {
			copy(b[i:i+sectorSize], s)
		}
	}
	return len(b), nil
}

// WriteAt writes whole sectors into the cache.
func (d *Platter) WriteAt(b []byte, at int64) (int, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.check(at, len(b)); err != nil {
		return 0, err
	}
	for i := 0; i < len(b); i += sectorSize {
		d.cache[(at+int64(i))/sectorSize] = append([]byte(nil), b[i:i+sectorSize]...)
	}
	if d.left > 0 {
		if d.left--; d.left == 0 {
			d.dead = true
			close(d.failed)
		}
	}
	return len(b), nil
}

// FailAfter lets the power fail behind the n-th write from now, of one or more:
// in the middle of what is being written. The channel is closed then.
func (d *Platter) FailAfter(n int) <-chan struct{} {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.left, d.failed = n, make(chan struct{})
	return d.failed
}

// Flush makes everything safe that was written before.
func (d *Platter) Flush() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.dead {
		return ErrPowerless
	}
	for n, s := range d.cache {
		if _, err := d.image.WriteAt(s, n*sectorSize); err != nil {
			return fmt.Errorf("flush sector %d: %w", n, err)
		}
	}
	clear(d.cache)
	return nil
}

// Cut takes the power away, where it has not failed, and closes the image. It
// returns how many sectors were lost.
func (d *Platter) Cut(chance *rand.Rand) (lost int, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.dead = true
	for _, n := range slices.Sorted(maps.Keys(d.cache)) {
		if chance.IntN(2) == 0 {
			lost++
			continue
		}
		if _, err := d.image.WriteAt(d.cache[n], n*sectorSize); err != nil {
			return lost, errors.Join(fmt.Errorf("sector %d: %w", n, err), d.image.Close())
		}
	}
	return lost, d.image.Close()
}
