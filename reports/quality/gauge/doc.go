// Package gauge says how much of a spread is the bench's own.
//
// A crossed study has every appraiser (a person, a nest, a bench) measure every
// part the same number of times. Its spread falls into components:
//
//   - EV, repeatability: the same appraiser, the same part, again.
//   - AV, reproducibility: one appraiser against another.
//   - interaction: appraisers who differ on some parts and not on others.
//   - GRR: the three together, all that is not the part.
//   - PV: part variation; TV: everything.
//
// Anova separates them by analysis of variance, AverageRange by mean ranges as
// one would on paper. Bias, Linearity and Stability ask whether a gauge reads
// the truth: at one reference, over its reach, over time. Cohen and Fleiss
// measure the agreement of judgements that are not numbers.
//
// Components are standard deviations, in the unit of the readings. One that
// the data would make negative is 0. A study that is not crossed and balanced
// is refused with ErrUnbalanced, and the error names the cell.
package gauge
