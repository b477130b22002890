// Package proportion says what a count of bad units among n tells about the
// fraction of bad units they were drawn from.
//
// The estimate is bad/n. Three intervals stand around it, because they answer
// differently and people ask for each: ClopperPearson never covers less than it
// promises and is the one to prove a claim with; Wilson covers what it promises
// on average and is the one to compare with; Jeffreys lies between them. An
// UpperBound alone spends the whole risk on one side: "with 95 % confidence at
// most".
//
// Domain of all: 0 <= bad <= n, n >= 1, confidence strictly between 0 and 1;
// outside it every result is NaN.
package proportion
