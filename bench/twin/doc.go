// Package twin is the simulated rig: a bench with its supplies, its relays,
// its chips and the unit in its nest, behind the same interfaces that copper
// has. The bench above it cannot tell the two apart.
//
// The twin is built from a wiring.Rig and a product.Product. Every net is a
// node of a circuit, every part, contact, supply and input an element of it;
// nominal values are drawn within their tolerances. The chips are models of
// their registers (package chips) which integrate what the circuit shows while
// a conversion runs. The bus takes the time of its bits.
//
// Time is virtual: a clock that the twin moves itself, with every transfer and
// every sleep. What happens by itself (a contact that lands, a supply that has
// waited long enough) is an event at its instant, and the circuit is solved no
// further than something looks at it: a voltage that crosses a level meanwhile
// is found then, and acts at the instant at which it crossed.
//
// Chance comes from named streams: every part draws from a stream of its own,
// named by the seed, the serial of the unit and the purpose, so that a draw
// that is added shifts no other.
//
// A Fault is a defect of a unit, with a severity between barely bad and
// grossly bad. A RigFault is a defect of the rig. Truth looks into the
// circuit, for tests and for the summary of a demonstration; nothing of it is
// reachable through the hardware that the bench is given.
//
// A Rig is all nests of a wiring file: a Twin for each, since their circuits touch
// nowhere but at ground. They share time, the heartbeat, the emergency stop, and the
// buses that the file puts chips of several nests on.
//
// A twin is for one goroutine: a bench has one loop.
package twin
