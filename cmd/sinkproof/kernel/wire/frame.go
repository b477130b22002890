package wire

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// Kind is what a frame means.
type Kind byte

// The kinds on the control port. Where nothing is said the body is empty.
const (
	Hello    Kind = iota + 1 // guest: it is ready
	Start                    // host: run a program; the body is a Program
	Input                    // host: bytes for the program's standard input
	InputEnd                 // host: end of the standard input
	Signal                   // host: one byte, the number of a signal
	Output                   // guest: bytes of the standard output
	Trouble                  // guest: bytes of the standard error
	Exited                   // guest: the program has ended; the body is an Exit
	Ask                      // host: a call; the body is a Call
	Answer                   // guest: the body is a Reply
)

// The kinds on the device ports. The id is that of the device.
const (
	Plug     Kind = iota + 32 // host: make the device; its body is for the kernel
	Unplug                    // host: take it away
	Data                      // both: bytes of the device
	Gone                      // guest: the kernel has let go of the device
	Standing                  // host: what to answer by itself from now on: a byte that says to what, and the answer
)

// limit is the longest body: a file that is carried in is cut into pieces.
const limit = 1 << 26

// header is the length of the body, the kind, the id.
const header = 4 + 1 + 4

// ErrFrame is the cause when bytes are no frame.
var ErrFrame = errors.New("no frame")

// Frame is one message.
type Frame struct {
	Kind Kind
	ID   uint32
	Body []byte
}

// Append adds the bytes of a frame to b.
func (f Frame) Append(b []byte) []byte {
	b = binary.LittleEndian.AppendUint32(b, uint32(len(f.Body)))
	b = append(b, byte(f.Kind))
	b = binary.LittleEndian.AppendUint32(b, f.ID)
	return append(b, f.Body...)
}

// Write sends a frame in one piece.
func Write(w io.Writer, f Frame) error {
	if len(f.Body) > limit {
		return fmt.Errorf("send %d bytes, at most %d: %w", len(f.Body), limit, ErrFrame)
	}
	if _, err := w.Write(f.Append(make([]byte, 0, header+len(f.Body)))); err != nil {
		return fmt.Errorf("send a frame: %w", err)
	}
	return nil
}

// Cut takes the first frame of some bytes and says how many it took: none where
// it is not whole yet. The body keeps the bytes of b.
func Cut(b []byte) (Frame, int) {
	if len(b) < header {
		return Frame{}, 0
	}
	n := header + int(binary.LittleEndian.Uint32(b))
	if len(b) < n {
		return Frame{}, 0
	}
	return Frame{Kind: Kind(b[4]), ID: binary.LittleEndian.Uint32(b[5:]), Body: b[header:n]}, n
}

// Read takes the next frame. io.EOF says that there are no more.
func Read(r io.Reader) (Frame, error) {
	var h [header]byte
	if _, err := io.ReadFull(r, h[:]); err != nil {
		if errors.Is(err, io.EOF) {
			return Frame{}, io.EOF
		}
		return Frame{}, fmt.Errorf("read the head of a frame: %w", err)
	}
	n := binary.LittleEndian.Uint32(h[:])
	if n > limit {
		return Frame{}, fmt.Errorf("a body of %d bytes, at most %d: %w", n, limit, ErrFrame)
	}
	f := Frame{Kind: Kind(h[4]), ID: binary.LittleEndian.Uint32(h[5:])}
	if n == 0 {
		return f, nil
	}
	f.Body = make([]byte, n)
	_, err := io.ReadFull(r, f.Body)
	if errors.Is(err, io.EOF) {
		err = io.ErrUnexpectedEOF
	}
	if err != nil {
		return Frame{}, fmt.Errorf("read the %d bytes of a frame: %w", n, err)
	}
	return f, nil
}
