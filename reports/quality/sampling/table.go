package sampling

// This file holds the tables of ISO 2859-1:1999 (the same as GB/T 2828.1-2012;
// ANSI/ASQ Z1.4 agrees in normal and tightened single plans). They are conventions
// and cannot be computed: tables 1, 2-A, 2-B and 2-C as they are commonly
// reproduced, not compared with a printed copy. A test holds their structure: how
// numbers rise along rows and diagonals.

// sizes are the first lot sizes of the rows of table 1.
func sizes() []int {
	return []int{2, 9, 16, 26, 51, 91, 151, 281, 501, 1201, 3201, 10001, 35001, 150001, 500001}
}

// letters are the rows of table 1 by inspection level, one letter per lot size.
func letters() map[Level]string {
	return map[Level]string{
		"S-1": "AAAABBBBCCCCDDD",
		"S-2": "AAABBBCCCDDDEEE",
		"S-3": "AABBCCDDEEFFGGH",
		"S-4": "AABCCDEEFGGHJJK",
		"I":   "AABCCDEFGHJKLMN",
		"II":  "ABCDEFGHJKLMNPQ",
		"III": "BCDEFGHJKLMNPQR",
	}
}

// limits are the acceptance quality limits in percent: of bad units up to 10, of
// faults per hundred units beyond.
func limits() []float64 {
	return []float64{0.01, 0.015, 0.025, 0.04, 0.065, 0.1, 0.15, 0.25, 0.4, 0.65, 1, 1.5, 2.5, 4, 6.5, 10, 15, 25, 40, 65, 100, 150, 250, 400, 650, 1000}
}

// normalTable is table 2-A: letter, sample size, then for each limit the acceptance
// number, or v for the first plan below, ^ for the first above, . for none.
const normalTable = `
A 2 v v v v v v v v v v v v v v 0 v v 1 2 3 5 7 10 14 21 30
B 3 v v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44
C 5 v v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^
D 8 v v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^
E 13 v v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 30 44 ^ ^ ^
F 20 v v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^
G 32 v v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^
H 50 v v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^
J 80 v v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^
K 125 v v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
L 200 v v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
M 315 v v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
N 500 v v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
P 800 v 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
Q 1250 0 ^ v 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
R 2000 ^ ^ 1 2 3 5 7 10 14 21 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
`

// tightenedTable is table 2-B: letter, sample size, then for each limit the acceptance
// number, or v for the first plan below, ^ for the first above, . for none.
const tightenedTable = `
A 2 v v v v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27
B 3 v v v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41
C 5 v v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^
D 8 v v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^ ^
E 13 v v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 27 41 ^ ^ ^
F 20 v v v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^
G 32 v v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^
H 50 v v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^
J 80 v v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^
K 125 v v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
L 200 v v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
M 315 v v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
N 500 v v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
P 800 v v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
Q 1250 v 0 v v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
R 2000 0 ^ v 1 2 3 5 8 12 18 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
S 3150 . . 1 . . . . . . . . . . . . . . . . . . . . . . .
`

// reducedTable is table 2-C: letter, sample size, then for each limit the acceptance
// number, or v for the first plan below, ^ for the first above, . for none.
const reducedTable = `
A 2 v v v v v v v v v v v v v v 0 v v 1 2 3 5 7 10 14 21 30
B 2 v v v v v v v v v v v v v 0 ^ v v 1 2 3 5 7 10 14 21 30
C 2 v v v v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 14 21 ^
D 3 v v v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 14 21 ^ ^
E 5 v v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 14 21 ^ ^ ^
F 8 v v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^
G 13 v v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^
H 20 v v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^
J 32 v v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^
K 50 v v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
L 80 v v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
M 125 v v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
N 200 v v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
P 315 v 0 ^ v v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
Q 500 0 ^ ^ v 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
R 800 ^ ^ ^ 1 2 3 5 6 8 10 ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^ ^
`

// The sample sizes by variables have letters of their own (ANSI/ASQ Z1.9-2008,
// table A-2, as commonly reproduced).

// sizesByVariables are the first lot sizes of its rows.
func sizesByVariables() []int {
	return []int{2, 9, 16, 26, 51, 91, 151, 281, 401, 501, 1201, 3201, 10001, 35001, 150001, 500001}
}

// lettersByVariables are its rows by inspection level, one letter per lot size.
func lettersByVariables() map[Level]string {
	return map[Level]string{
		"S-3": "BBBBBBBCCDEFGHHH",
		"S-4": "BBBBBCDEEFGHIJKK",
		"I":   "BBBCDEFGGHIJKLMN",
		"II":  "BBCDEFGHIJKLMNPP",
		"III": "CDEFGHIJJKLMNPPP",
	}
}
