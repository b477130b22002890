package columns_test

import (
	"fmt"
	"strings"

	"sinkproof/cmd/sinkproof/statistics/columns"
)

func Example() {
	file := "unit;vbus\nLMP-1;4,98\nLMP-2;5,O1\n"
	r, err := columns.NewReader(strings.NewReader(file), "vbus.csv", columns.Format{DecimalComma: true})
	if err != nil {
		fmt.Println(err)
		return
	}
	vbus, err := r.Find("vbus")
	for err == nil {
		if err = r.Next(); err == nil {
			var v float64
			if v, err = r.Number(vbus); err == nil {
				fmt.Println(string(r.Text(0)), v)
			}
		}
	}
	fmt.Println(err)
	// Output:
	// LMP-1 4.98
	// vbus.csv: line 3, column "vbus": "5,O1" is no number
}
