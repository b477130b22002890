package qualification_test

import (
	"fmt"

	"sinkproof/reports/quality/capability"
	"sinkproof/reports/quality/qualification"
)

// Without a gauge study no supplier is judged.
func ExampleDecide() {
	s := qualification.Sample{
		Terms:           qualification.DefaultTerms(),
		Characteristics: []qualification.Characteristic{{Name: "charge current", Unit: "A", Limits: capability.Between(0.36, 0.44)}},
	}
	for i := range 120 {
		s.Boards = append(s.Boards, qualification.Board{
			Serial: fmt.Sprint(i), Side: qualification.Side(i * 7 % 5 % 2), Lot: fmt.Sprint("lot ", i/40), Tested: int64(i), Good: true,
			Place: &qualification.Place{Bench: "bench 3", Nest: "1", Day: "2026-05-04"}, Values: []float64{0.4 + 0.001*float64(i%9)},
		})
	}
	q, err := qualification.Decide(s)
	if err != nil {
		panic(err)
	}
	fmt.Println(q.Decision, "-", q.Reasons[0])
	// Output: refused - no gauge study: no board was run again and again in every nest on every day
}
