// Package typec holds the numbers of the USB Type-C standard that decide
// whether a small sink gets power, and what a pair of CC terminations means.
//
// A source pulls its two CC pins up with Rp and thereby advertises a current:
// default, 1.5 A or 3.0 A. A sink pulls each of its CC pins down with Rd. A
// cable that carries electronics loads one wire with Ra. The voltage on a CC
// pin tells the source what hangs there, its termination, and tells the sink
// what is on offer. Between the windows that the standard guarantees lie
// decision zones in which one port may decide so and another otherwise.
//
// A range is a figure with its limits, the table it stands in and how it is
// known: seen in the named document, computed from seen figures, or from
// memory. Sides that the standard leaves open are infinite.
//
// A revision selects one of the two generations of CC voltage tables. R1.0 to
// R2.3 print rounded windows; R2.4 and later recompute them from the limits of
// the resistors. The new windows lie inside the old ones but for the rounding:
// 2 mV, and 4 mV at the upper end of 1.5 A (1.164 V against 1.16 V).
//
// # Sources
//
// The specification itself is published by the USB Implementers Forum. Its
// figures were read in public secondary excerpts, which quote it by table
// number: for R2.5 (March 2026) the repository tangjianfang/USBTree, chapter
// 9; for R2.0 and R1.0 board-design notes and the text table of the MT6392
// kernel driver. Data sheets, the Linux and Zephyr headers and the ChromiumOS
// embedded controller, which repeat the figures, were read directly. The
// windows of R2.5 were derived again from the resistors in the tests.
package typec
