// Package circuit solves the small electrical networks of a test bench twin.
//
// A [Netlist] names nodes and hangs elements between them: resistors,
// capacitors, sources, switches, and elements that are linear in pieces: a
// diode, a supply with a current limit, a current source with a compliance, a
// linear charger for one cell. [Netlist.Start] turns it into a [Sim], which has
// a time, capacitor voltages and, for each piecewise element, a segment.
//
// # Method
//
// While no switch moves and no segment changes, the network is linear with real
// time constants. The nodes fall into islands: groups joined by something that
// conducts (the ground joins nothing). Per island the nodes without a capacitor
// are eliminated, the rest is decomposed into modes once, and every voltage is
// then a constant plus a few exponentials: a sample at any instant costs those
// exponentials and no stepping, however far away it is. A solution is kept per
// island under the states of its switches and the segments of its elements, so
// that coming back to a state costs two small matrix products. All of that lives
// in a few large blocks, which a later network can take over ([Netlist.StartIn]),
// with the islands where it joins the same nodes in the same way, and with what the
// elements that both have in common ([Netlist.Base]) are to the rest of an island.
//
// The mean over a stretch is as exact as a sample ([Sim.Mean]). Whoever adds up
// means asks to be called before a change ([Sim.BeforeChange]).
//
// A segment holds as long as a few linear conditions hold. The first violation
// is the first zero of a sum of exponentials, which is bracketed by bounds that
// are valid over a whole interval (each term is monotone), so that no zero is
// stepped over (see crossing.go). A [Watch] is found the same way.
//
// # Units
//
// Volts, amperes, ohms, siemens, farads and seconds, all as float64, the unit
// in the name.
//
// # Floating nodes
//
// An open switch conducts nothing at all. A group of nodes that is cut off from
// ground keeps its charge if any capacitor hangs on it; when none of them goes
// to ground, the level of the group is kept too, as if by 1 pF from its first
// node to ground. A group with no capacitor and no path to ground has no
// defined voltage: that is a [FloatingError] which names the nodes. For a DC
// solution capacitors are open, so there a path to ground is needed.
//
// # Accuracy
//
// A relaxation faster than [SettledSeconds] is taken as finished at once, with
// its charge conserved; what follows is late or early by a few times that, so
// that a voltage that moves by s volts per second is off by some s times 1e-9.
// Conductances on one node may differ by 1e12 (1 mΩ against 1 GΩ): the weak one
// is then good to 1e-4 of itself, and better in proportion for a smaller
// spread. A condition counts as violated beyond [ConditionVolts], which makes
// that the error of a corner.
package circuit
