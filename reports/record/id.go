package record

import (
	"encoding/hex"
	"fmt"
	"io"
	"time"
)

// NewID returns a UUIDv7 (RFC 9562, 5.7) made of the millisecond of the given
// instant and 74 random bits, in lower case. Ids sort by instant; the order
// of the chain, not the id, orders runs. Instants before 1970 or after 10889
// do not fit and are an error.
func NewID(at time.Time, random io.Reader) (string, error) {
	ms := at.UnixMilli()
	if ms < 0 || ms >= 1<<48 {
		return "", fmt.Errorf("record: id for %s: outside the 48 bits of a UUIDv7: %w", at, ErrInvalid)
	}
	var b [16]byte
	if _, err := io.ReadFull(random, b[6:]); err != nil {
		return "", fmt.Errorf("record: id: read randomness: %w", err)
	}
	for i := range 6 {
		b[i] = byte(ms >> (40 - 8*i))
	}
	b[6] = b[6]&0x0f | 0x70 // version 7
	b[8] = b[8]&0x3f | 0x80 // variant 0b10
	h := hex.EncodeToString(b[:])
	return h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:], nil
}

// Instant prints a wall-clock instant as a record holds it: RFC 3339 in UTC,
// whole microseconds.
func Instant(at time.Time) string {
	return at.UTC().Truncate(time.Microsecond).Format(time.RFC3339Nano)
}
