// Package thermometer drives a temperature sensor of the LM75 class over an
// i2c.Bus: LM75, and its relatives with 11 and 12 bits (TMP75, TMP1075 among
// them).
//
// The *bits* are how many of the sixteen in the temperature register count,
// from the top: 9, 11 or 12. They all span -128 °C to just below +128 °C.
//
// The *alarm* is the temperature above which the chip pulls its OS (ALERT) pin
// low, and the *release* the one below which it lets go. The driver sets both
// and reads no pin. As the chips of this class have no identification that they
// share, New proves the chip by these two registers.
//
// These chips have no ready bit, and read 0 °C until their first conversion has
// ended. The driver keeps count: Read waits out the longest conversion after a
// start, and a 0 that could be such a zero is confirmed after one more. What
// Read returns is at most one conversion old.
package thermometer
