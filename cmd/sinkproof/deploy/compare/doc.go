// Command compare tells whether two demonstrations of one seed, made by
// binaries of different architectures, say the same.
//
// A lot is what sinkproof demo leaves in its output folder. Two lots say the
// same when whatever a person or a program reads from them as an answer is
// equal to the last printed digit:
//
//   - demo.json, with every verdict and every failed check, byte for byte, and
//     index.html likewise;
//   - every report as a page, byte for byte, but for the hashes of the record, the
//     picture of the code, which holds one, and the strokes of the curves;
//   - every record: the same fields in the same order with the same texts, whole
//     numbers and truth values. Numbers with a fraction may differ in their last
//     binary digits, since some processors round a product before they add to it
//     and others do not.
//
// With -same the lots must be equal byte for byte, ledger and printed reports
// included: the promise that one architecture keeps.
package main
