// Package calibration compares the channels of a rig with a reference that
// somebody reads, and computes what follows.
//
// A point is one comparison: the rig stands in a state of its wiring, the
// channel is read, and the reference shows what it really was. The rig makes
// its own points, from the supplies and loads that it has; nobody has to bring
// a source. A survey finds the states in which the voltage of a channel differs
// most.
//
// A current is compared with an instrument in series with its shunt, range by
// range; hands seat the check receptacle, whose loads reach far up a range. A
// temperature is compared with one beside its sensor, where one point shifts it. A
// termination is a ratio of two voltages on one converter and a pull-up: the
// pull-up itself is compared, while the rig is isolated.
//
// A line is fitted to the points of a channel by least squares (JCGM 100:2008,
// H.3). About the mean of the readings its level and its slope are independent.
// Two points leave no residual and one leaves no offset: their uncertainty then
// comes from the repeatability of the readings and from what the wiring says.
//
// A reading that the tolerances of the wiring do not explain is a slip of the pen or
// a channel that has drifted beyond them. Three points or more on one line tell the
// two apart: a drifted gain is corrected and reported, a slip is refused.
//
// The result is a record.Calibration, signed and kept in the ledger, which
// InForce turns into the value that a bench is opened with. It corrects only
// channels whose readings become less uncertain by it.
package calibration
