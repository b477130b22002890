// Package powermon drives a bidirectional monitor of shunt voltage and bus
// voltage with an alert pin (INA226 class) over an i2c.Bus.
//
// The *shunt* is the resistor whose voltage means a current; the *bus* is the
// voltage at the VBUS pin. A *reading* holds both and what the chip computes
// from them: current and power. Measure reads these from the chip as well; Next
// computes them in the same way, for two transfers less. A *shunt reading* holds
// the shunt alone: NextShunt takes one of those that Next would, for who asks for no
// more than the current; Shunt takes one as fast as the chip can, for the current that
// rushes into a capacitor.
//
// # Ways to measure
//
// Measure triggers one averaged conversion of shunt and bus. Start lets the
// chip convert without end, so that a limit is watched all the time, and Next
// waits for the conversion that follows. Shunt triggers one unaveraged
// conversion of the shunt. All three find the end by polling the
// conversion-ready flag (CVRF). Next looks at it once more after the reading,
// lest the two registers be of two conversions, unless the clock proves that the
// next one had not ended yet.
//
// # One register, two meanings
//
// The flag stands in the register that holds the alert flag, and reading that
// register clears the ready flag and releases a latched alert. The driver
// therefore reads it in one place only and remembers both: a look at the alert
// cannot swallow a conversion, and waiting for a conversion cannot swallow an
// alert. The alert *pin*, however, is released by any such read. Hardware that
// must stay off after an alert needs a latch of its own.
//
// # Currents
//
// The calibration word is truncated, so the current of one code is seldom
// exactly the one that was asked for. The driver reports currents with the step
// that the truncated word really gives. Current keeps its sign; the chip's
// power has none.
//
// A reset (a dip of the supply) clears the calibration, and from then on the
// chip answers 0 A whatever flows. Measure compares the current with the shunt
// voltage that it must follow from. Next reads the calibration back, unless the
// register of the flag has just shown the limit that is armed, which a reset clears,
// and the results are none of the zeros that it leaves.
package powermon
