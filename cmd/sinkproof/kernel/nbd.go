package kernel

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
)

// The numbers of the network block device protocol (The NBD protocol, doc/proto.md
// of the NetworkBlockDevice project): handshake of the "fixed newstyle", simple
// replies.
const (
	nbdMagic     = 0x4e42444d41474943 // "NBDMAGIC"
	nbdOptions   = 0x49484156454F5054 // "IHAVEOPT"
	nbdReply     = 0x3e889045565a9
	nbdRequest   = 0x25609513
	nbdSimple    = 0x67446698
	nbdFixed     = 1 // handshake flag: fixed newstyle
	nbdAbort     = 2 // option
	nbdInfo      = 6
	nbdGo        = 7
	nbdAck       = 1 // kinds of reply
	nbdInfoReply = 3
	nbdUnknown   = 1<<31 + 1
	nbdRead      = 0 // commands
	nbdWrite     = 1
	nbdEnd       = 2
	nbdFlush     = 3
	nbdIOError   = 5 // error numbers
	nbdInvalid   = 22
	// Transmission flags: there are flags, FLUSH is known. What the cache must
	// not keep back is flushed by the client.
	nbdCan = 1 | 4
	// nbdLongest is the longest transfer that is taken, as the protocol advises.
	nbdLongest = 32 << 20
)

// errProtocol is the cause when the client says what the protocol does not know.
var errProtocol = errors.New("not the network block device protocol")

// Serve offers a disk to the emulator on a socket until it hangs up. It takes
// one client.
func (d *Platter) Serve(l net.Listener) error {
	c, err := l.Accept()
	if err != nil {
		return fmt.Errorf("serve a disk: %w", err)
	}
	defer c.Close()
	s := &session{disk: d, in: bufio.NewReaderSize(c, 1<<16), out: bufio.NewWriterSize(c, 1<<16)}
	if err := s.greet(); err != nil {
		return fmt.Errorf("serve a disk: greet: %w", err)
	}
	if err := s.transmit(); err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, net.ErrClosed) {
		return fmt.Errorf("serve a disk: %w", err)
	}
	return nil
}

// session is one client.
type session struct {
	disk *Platter
	in   *bufio.Reader
	out  *bufio.Writer
}

func (s *session) put(values ...any) error {
	for _, v := range values {
		if err := binary.Write(s.out, binary.BigEndian, v); err != nil {
			return err
		}
	}
	return nil
}

func (s *session) get(values ...any) error {
	for _, v := range values {
		if err := binary.Read(s.in, binary.BigEndian, v); err != nil {
			return err
		}
	}
	return nil
}

// greet agrees on the one disk that there is, under any name.
func (s *session) greet() error {
	if err := errors.Join(s.put(uint64(nbdMagic), uint64(nbdOptions), uint16(nbdFixed)), s.out.Flush()); err != nil {
		return err
	}
	var flags uint32
	if err := s.get(&flags); err != nil {
		return err
	}
	for {
		done, err := s.option()
		if err = errors.Join(err, s.out.Flush()); err != nil || done {
			return err
		}
	}
}

// option answers one option and tells whether the talk about options is over.
func (s *session) option() (done bool, err error) {
	var magic uint64
	var option, length uint32
	if err := s.get(&magic, &option, &length); err != nil {
		return false, err
	}
	if magic != nbdOptions || length > 1<<16 {
		return false, fmt.Errorf("option %#x of %d bytes: %w", magic, length, errProtocol)
	}
	if _, err := s.in.Discard(int(length)); err != nil {
		return false, err
	}
	switch option {
	case nbdInfo, nbdGo:
		// NBD_INFO_EXPORT: type 0, size, transmission flags.
		return option == nbdGo, errors.Join(
			s.put(uint64(nbdReply), option, uint32(nbdInfoReply), uint32(12), uint16(0), uint64(s.disk.size), uint16(nbdCan)),
			s.put(uint64(nbdReply), option, uint32(nbdAck), uint32(0)))
	case nbdAbort:
		return false, io.EOF
	}
	return false, s.put(uint64(nbdReply), option, uint32(nbdUnknown), uint32(0))
}

// command is one request of the client.
type command struct {
	Magic       uint32
	Flags, Kind uint16
	Handle, At  uint64
	Length      uint32
}

func (s *session) transmit() error {
	for {
		var c command
		if err := s.get(&c); err != nil {
			return err
		}
		if c.Magic != nbdRequest || c.Length > nbdLongest {
			return fmt.Errorf("request %#x of %d bytes: %w", c.Magic, c.Length, errProtocol)
		}
		if c.Kind == nbdEnd {
			return nil
		}
		data, code, err := s.do(c)
		if err != nil {
			return err
		}
		if err := s.put(uint32(nbdSimple), code, c.Handle, data); err != nil {
			return err
		}
		if s.in.Buffered() == 0 {
			if err := s.out.Flush(); err != nil {
				return err
			}
		}
	}
}

// do carries a request out. Trouble of the disk is a code for the client.
func (s *session) do(c command) (data []byte, code uint32, err error) {
	switch c.Kind {
	case nbdRead:
		data = make([]byte, c.Length)
		_, err = s.disk.ReadAt(data, int64(c.At))
	case nbdWrite:
		written := make([]byte, c.Length)
		if _, err := io.ReadFull(s.in, written); err != nil {
			return nil, 0, err
		}
		_, err = s.disk.WriteAt(written, int64(c.At))
	case nbdFlush:
		err = s.disk.Flush()
	default:
		return nil, nbdInvalid, nil
	}
	if err != nil {
		return nil, nbdIOError, nil
	}
	return data, 0, nil
}
