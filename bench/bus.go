package bench

import (
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// served is a bus whose every transfer serves the guard first, and looks at
// the clock after it: a transfer that hung has cost the coils.
type served struct {
	bus   i2c.Bus
	guard *guard
}

var _ i2c.Bus = (*served)(nil)

// String returns the name of the bus below.
func (s *served) String() string { return s.bus.String() }

// Tx transfers unless the guard has tripped.
func (s *served) Tx(addr uint16, w, r []byte) error {
	g := s.guard
	from, err := g.serve(g.clock.Now())
	if err != nil {
		return err
	}
	err = s.bus.Tx(addr, w, r)
	now := g.clock.Now()
	if len(r) == 0 {
		g.wrote = span{from, now}
	}
	if g.dropping {
		return err
	}
	if late := g.after(now); late != nil {
		return late
	}
	return err
}

// SetSpeed passes the frequency on.
func (s *served) SetSpeed(f physic.Frequency) error { return s.bus.SetSpeed(f) }
