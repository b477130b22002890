package circuit

import (
	"fmt"
	"math"
)

// element returns the element with its kind checked.
func (s *Sim) element(id ElementID, doing string, kinds ...Kind) (*element, error) {
	if id < 0 || int(id) >= len(s.elements) {
		return nil, fmt.Errorf("element %d: %s: %w", id, doing, ErrKind)
	}
	e := &s.elements[id]
	for _, k := range kinds {
		if e.kind == k {
			return e, nil
		}
	}
	return nil, fmt.Errorf("%s %s: %s: %w", e.kind, e.name, doing, ErrKind)
}

// SetSwitch closes or opens a switch.
func (s *Sim) SetSwitch(id ElementID, closed bool) error {
	e, err := s.element(id, "set contact", KindSwitch)
	if err != nil || e.closed == closed {
		return err
	}
	s.touch(int(id))
	e.closed = closed
	e.learn()
	s.flip(int(id))
	return nil
}

// SetVolts sets the voltage of a voltage source or limited supply, the
// compliance of a limited current source, or the threshold of a diode.
func (s *Sim) SetVolts(id ElementID, volts float64) error {
	e, err := s.element(id, "set voltage", KindVoltageSource, KindLimitedSupply, KindLimitedCurrentSource, KindDiode)
	if err != nil || e.volts == volts {
		return err
	}
	if !finite(volts) {
		return &ValueError{e.name, "voltage", volts}
	}
	s.touch(int(id))
	e.volts = volts
	s.refit(e)
	return nil
}

// SetAmperes sets the current of a current source, the limit of a limited
// supply, or the current of a limited current source.
func (s *Sim) SetAmperes(id ElementID, amperes float64) error {
	e, err := s.element(id, "set current", KindCurrentSource, KindLimitedSupply, KindLimitedCurrentSource)
	if err != nil || e.amperes == amperes {
		return err
	}
	if !finite(amperes) || (amperes < 0 && e.kind != KindCurrentSource) {
		return &ValueError{e.name, "current", amperes}
	}
	s.touch(int(id))
	e.amperes = amperes
	e.learn()
	return nil
}

// refit puts a diode with another threshold into the segment that the voltages before
// the change point to, from which the search begins.
func (s *Sim) refit(e *element) {
	e.learn()
	if !s.running || s.err != nil || e.kind != KindDiode {
		return
	}
	if a, b := s.before(e.a), s.before(e.b); finite(a - b) {
		e.fitTo(a - b)
	}
}

// before is the voltage of a node at Now, whatever is to change there.
func (s *Sim) before(n Node) float64 {
	if n == Ground {
		return 0
	}
	if s.shapeOf(s.part, n).active == nil {
		return math.NaN()
	}
	return s.at(n, s.now)
}

// SetOhms sets the value of a resistor.
func (s *Sim) SetOhms(id ElementID, ohms float64) error {
	e, err := s.element(id, "set resistance", KindResistor)
	if err != nil || e.ohms == ohms {
		return err
	}
	if !positive(ohms) {
		return &ValueError{e.name, "resistance", ohms}
	}
	s.touch(int(id))
	e.ohms = ohms
	e.learn()
	s.values++
	if int(id) < s.net.base {
		s.base.change(int(id), e)
	}
	return nil
}

// SetEnabled switches a limited source or a charger on or off. A charger that
// is switched on begins with its lock-out; a source with the segment it had.
func (s *Sim) SetEnabled(id ElementID, enabled bool) error {
	e, err := s.element(id, "switch on or off", KindLimitedSupply, KindLimitedCurrentSource, KindCharger)
	if err != nil || e.enabled == enabled {
		return err
	}
	s.touch(int(id))
	e.enabled = enabled
	e.learn()
	if e.kind == KindCharger {
		e.charger.disabled = !enabled
		e.charger.phase = phaseLow
		s.memory++
	} else {
		s.flip(int(id))
	}
	return nil
}

// Segment says in words where an element is on its characteristic. Diode:
// blocking, conducting. Limited sources: off, constant current, constant
// voltage, blocking, sinking limit. Switch: open, closed. Charger: off, input
// low, no headroom, trickle, soft start, constant current, constant voltage,
// dropout, full, reverse, done. Others: linear.
func (s *Sim) Segment(id ElementID) string {
	_ = s.Settle()
	return s.elements[id].segmentName()
}

// Memory counts the changes of what chargers remember (lock-out, stage, soft
// start step, end of charge). Between equal counts the network is without
// memory.
func (s *Sim) Memory() int { return s.memory }

// Amperes returns the current through an element at Now. For resistor,
// capacitor, switch and diode it counts from the first node to the second; for
// sources, out of plus (or into the node to of a CurrentSource), so that a
// delivering source is positive; for a charger, out of bat into the cell.
func (s *Sim) Amperes(id ElementID) float64 {
	e := &s.elements[id]
	va, vb := s.Volts(e.a), s.Volts(e.b)
	switch e.kind {
	case KindCapacitor:
		return e.farads * (s.slope(e.a) - s.slope(e.b))
	case KindVoltageSource, KindLimitedSupply, KindLimitedCurrentSource:
		g, i := e.law.siemens, e.law.amperes
		return -(g*(va-vb) + i)
	case KindCharger:
		i := e.charger.current(va-s.Volts(e.c), vb-s.Volts(e.c))
		if r := e.charger.ReverseOhms; r > 0 {
			i += (va - vb) / r
		}
		return i
	}
	g, i := e.law.siemens, e.law.amperes
	return g*(va-vb) + i
}

// InputAmperes returns the current into a charger's input at Now: its Amperes
// and its own consumption.
func (s *Sim) InputAmperes(id ElementID) (float64, error) {
	e, err := s.element(id, "input current", KindCharger)
	if err != nil {
		return 0, err
	}
	i := s.Amperes(id)
	if e.charger.awake() {
		i += e.charger.QuiescentAmperes
	}
	if r := e.charger.QuiescentOhms; r > 0 {
		i += (s.Volts(e.a) - s.Volts(e.c)) / r
	}
	return i, nil
}

// slope is dv/dt of a node at Now, after any jump.
func (s *Sim) slope(n Node) float64 {
	if n == Ground || s.Settle() != nil {
		return 0
	}
	sol := s.shapeOf(s.part, n).active
	if !s.flows(sol) {
		return 0
	}
	decay, slope := make([]float64, len(sol.acts)), make([]float64, len(sol.acts))
	sol.decays(s.now-sol.since, decay)
	sol.slopes(decay, slope)
	sum, row := 0.0, sol.b[int(s.part.local[n])*sol.m:]
	for q, j := range sol.acts {
		sum += row[j] * sol.amp[q] * slope[q]
	}
	return sum
}
