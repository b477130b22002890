package statistics_test

import (
	"fmt"
	"os"
	"strings"

	"sinkproof/cmd/sinkproof/statistics"
)

func ExampleNewStudy() {
	c := statistics.NewStudy(func(err error) error { return err })
	c.SetArgs([]string{"tolerance", "-", "--value", "vbus", "--sides", "1", "--json"})
	c.SetIn(strings.NewReader("unit,vbus\nLMP-1,4.98\nLMP-2,5.02\nLMP-3,5.01\n"))
	c.SetOut(os.Stdout)
	if err := c.Execute(); err != nil {
		fmt.Println(err)
	}
	// Output:
	// {
	//   "n": 3,
	//   "coverage": 0.95,
	//   "confidence": 0.95,
	//   "sides": 1,
	//   "factor": 7.655900133153333,
	//   "least_n": 59,
	//   "mean": 5.003333333333333,
	//   "sd": 0.020816659994660883,
	//   "lower": 4.843963063308401,
	//   "upper": 5.162703603358265
	// }
}

func ExampleNewLot() {
	c := statistics.NewLot(func(err error) error { return err })
	c.SetArgs([]string{"plan", "--size", "500", "--aql", "0.65"})
	c.SetOut(os.Stdout)
	if err := c.Execute(); err != nil {
		fmt.Println(err)
	}
	// Output:
	// Sampling plan: lot of 500: test 80, accept up to 1 bad
	//   lot     500 units, level II: code letter H
	//   plan    AQL 0.65 %, normal: letter J
	//   test    80 units
	//   accept  up to 1 bad
	//   reject  from 2 bad on
}
