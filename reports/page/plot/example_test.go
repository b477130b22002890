package plot_test

import (
	"bytes"
	"fmt"

	"sinkproof/reports/page/plot"
)

// A figure of 400 mA is drawn in milliamperes, with its threshold.
func ExampleFigure_SVG() {
	f := plot.Figure{
		Title:  "Current from a portable supply",
		X:      plot.Axis{Name: "time", Unit: "s"},
		Y:      plot.Axis{Name: "current", Unit: "A"},
		Curve:  []plot.Point{{X: 0, Y: 0}, {X: 0.1, Y: 0.395}, {X: 0.2, Y: 0.395}},
		Levels: []plot.Level{{Label: "wake threshold", Y: 0.06}},
	}
	svg, err := f.SVG(505, 140)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(f.Description())
	fmt.Println(bytes.Contains(svg, []byte("current in mA")))
	// Output:
	// Current from a portable supply: current from 0 mA to 395 mA over 200 ms; wake threshold 60 mA
	// true
}

func ExampleVisible() {
	fmt.Println(plot.Visible("SN\u202e71000"))
	// Output: SN‹U+202E›71000
}
