package twin

import "sinkproof/bench/circuit"

// Memory is where the circuits of a twin keep what they have found out: some
// megabytes, and how contacts divide the network. A twin has two, for the empty nest
// and for the unit in it, and takes them in turn. Whoever simulates rig after rig
// hands it on with Retire: the next twin has the room at once and, where it is of
// the same wiring, the divisions. No digit depends on it. One twin uses it at a time.
type Memory struct{ spare []*circuit.Sim }

// take returns a circuit that is done with, nil for none.
func (m *Memory) take() *circuit.Sim {
	if len(m.spare) == 0 {
		return nil
	}
	first := m.spare[0]
	m.spare = m.spare[1:]
	return first
}

// keep takes a circuit that is done with; nil is none.
func (m *Memory) keep(s *circuit.Sim) {
	if s != nil {
		m.spare = append(m.spare, s)
	}
}

// Retire ends a twin with an empty nest and returns its memory for the next one. It
// must not be used afterwards.
func (t *Twin) Retire() *Memory {
	// The next twin begins with an empty nest, too.
	t.memory.spare = append([]*circuit.Sim{t.sim}, t.memory.spare...)
	t.sim, t.netlist = nil, nil
	return t.memory
}
