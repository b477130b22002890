package circuit

// Part describes one element of a Sim at Now, for export and reports. The
// meaning of the values is that of the constructor; fields that the kind does
// not have are zero.
type Part struct {
	Name    string
	Kind    Kind
	A, B, C Node // as in the constructor; for a charger in, bat, gnd
	Ohms    float64
	Farads  float64
	Volts   float64 // a capacitor: its voltage at Now
	Amperes float64
	Siemens float64
	CanSink bool
	On      bool // switch closed, source or charger enabled
	Segment string
	Charger ChargerState
}

// ChargerState is what a charger remembers, as far as it shapes its currents.
type ChargerState struct {
	ChargerParams
	Charging          bool    // drives current into the cell
	Awake             bool    // draws its quiescent current
	ProgrammedAmperes float64 // of the present stage and soft start step
}

// Parts describes all elements, indexed by ElementID.
func (s *Sim) Parts() []Part {
	parts := make([]Part, len(s.elements))
	for i := range s.elements {
		e := &s.elements[i]
		p := Part{Name: e.name, Kind: e.kind, A: e.a, B: e.b, C: e.c, Ohms: e.ohms, Farads: e.farads,
			Volts: e.volts, Amperes: e.amperes, Siemens: e.siemens, CanSink: e.canSink,
			On: e.closed || e.enabled, Segment: s.Segment(ElementID(i))}
		if e.kind == KindCapacitor {
			p.Volts = s.Volts(e.a) - s.Volts(e.b)
		}
		if c := e.charger; c != nil {
			p.Charger = ChargerState{c.ChargerParams, c.active(), c.awake(), c.programmed()}
		}
		parts[i] = p
	}
	return parts
}

// Nodes returns the number of nodes, Ground included.
func (s *Sim) Nodes() int { return len(s.net.names) }

// NodeName returns the name of a node.
func (s *Sim) NodeName(n Node) string { return s.net.names[n] }
