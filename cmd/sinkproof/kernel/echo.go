package kernel

import (
	"sync"
	"time"
)

// Addresses of the Echo.
const (
	EchoMemory = 0x50 // 256 bytes behind a pointer of one byte that counts up
	EchoSlow   = 0x51 // the same; every transfer takes EchoDelay
	EchoLog    = 0x53 // what was done to the GPIO lines
)

// EchoDelay is how long the slow memory takes to answer.
const EchoDelay = time.Second

// Echo is a world for tests of the hardware layer. On its bus stand two
// memories and a log; every other address is empty. Of its lines 0 and 1 are
// joined, and all are pulled up; what is done to lines 2 to 7 is logged. The log
// of a line is read by writing its number and reading: first the number of
// entries, then one byte each, bit 0 the level and bit 1 set for an output.
// Writing 255 clears all.
type Echo struct {
	mu       sync.Mutex
	memories [2][256]byte
	pointers [2]byte
	outputs  uint8
	levels   uint8 // that outputs are driven to
	logs     [8][]byte
	asked    byte // the line whose log is read
}

// NewEcho returns an echo. An output that was never set is high.
func NewEcho() *Echo { return &Echo{levels: 0xff} }

// Tx is a transfer on the bus.
func (e *Echo) Tx(addr uint16, w, r []byte) error {
	if addr == EchoSlow {
		time.Sleep(EchoDelay)
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	switch addr {
	case EchoMemory, EchoSlow:
		e.memory(int(addr-EchoMemory), w, r)
	case EchoLog:
		e.log(w, r)
	default:
		return ErrNoAnswer
	}
	return nil
}

func (e *Echo) memory(i int, w, r []byte) {
	if len(w) > 0 {
		e.pointers[i] = w[0]
		for _, b := range w[1:] {
			e.memories[i][e.pointers[i]] = b
			e.pointers[i]++
		}
	}
	for k := range r {
		r[k] = e.memories[i][e.pointers[i]]
		e.pointers[i]++
	}
}

func (e *Echo) log(w, r []byte) {
	switch {
	case len(w) == 0:
	case w[0] == 0xff:
		e.logs = [8][]byte{}
	default:
		e.asked = w[0] & 7
	}
	if len(r) == 0 {
		return
	}
	entries := e.logs[e.asked]
	r[0] = byte(len(entries))
	copy(r[1:], entries)
}

// Direct logs lines whose direction changes.
func (e *Echo) Direct(outputs uint8) {
	e.mu.Lock()
	defer e.mu.Unlock()
	changed := outputs ^ e.outputs
	e.outputs = outputs
	e.note(changed)
}

// Set logs lines that are set, also to the level that they have.
func (e *Echo) Set(mask, levels uint8) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.levels = e.levels&^mask | levels&mask
	e.note(mask)
}

// note logs how some lines stand.
func (e *Echo) note(lines uint8) {
	for i := range e.logs {
		bit := uint8(1) << i
		if i < 2 || lines&bit == 0 {
			continue
		}
		entry := e.standing() & bit >> i
		if e.outputs&bit != 0 {
			entry |= 2
		}
		e.logs[i] = append(e.logs[i], entry)
	}
}

// Levels are those of the lines.
func (e *Echo) Levels() uint8 {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.standing()
}

// standing is what stands on the lines: what outputs drive, high where
// nothing does, and on the two that are joined what either drives.
func (e *Echo) standing() uint8 {
	v := e.levels&e.outputs | ^e.outputs
	if v&3 != 3 {
		v &^= 3
	}
	return v
}
