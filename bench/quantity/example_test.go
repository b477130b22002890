package quantity_test

import (
	"errors"
	"fmt"

	"sinkproof/bench/quantity"
)

func Example() {
	// A sink termination measured with a pull-up: both voltages come from one
	// converter, so its gain cancels and the pull-up is what remains.
	pullUp := quantity.NewMeasured(quantity.Ohms(56e3), quantity.Uniform("pull-up tolerance", 56, 1))
	reading := func(volts float64, input string) quantity.Measured {
		return quantity.NewMeasured(quantity.Volts(volts),
			quantity.Uniform("adc gain", 0.0015, volts),
			quantity.Resolution("step "+input, 125e-6, 1))
	}
	cc, supply := reading(0.4173, "cc1"), reading(5, "supply")
	across, _ := supply.Sub(cc)
	ratio, _ := quantity.Ratio(cc, across)
	rd, err := pullUp.Mul(ratio)
	fmt.Println(cc)
	fmt.Println(rd, err)
	// Output:
	// 417.3 mV ± 0.7 mV
	// 5.099 kΩ ± 0.006 kΩ <nil>
}

func ExampleParseAs() {
	limit, err := quantity.ParseAs("4.75V", quantity.Voltage)
	fmt.Println(limit, limit.SI, err)
	_, err = quantity.ParseAs("4.75 A", quantity.Voltage)
	fmt.Println(err)
	var place *quantity.ParseError
	if errors.As(err, &place) {
		fmt.Println("caret under byte", place.Offset)
	}
	// Output:
	// 4.75 V 4.75 <nil>
	// quantity "4.75 A": found a current in "A", wants a voltage such as 4.75 V
	// caret under byte 5
}

func ExampleQuantity_Div() {
	r, _ := quantity.Volts(0.8).Div(quantity.Ohms(72.4e3))
	fmt.Println(r.Text(4))
	_, err := quantity.Volts(0.8).Add(r)
	fmt.Println(err)
	// Output:
	// 11.05 µA
	// add: a voltage (V) and a current (A): dimensions differ
}

func ExampleMeasured_WithBound() {
	saturated := quantity.Known(quantity.Volts(6.144)).WithBound(quantity.AtLeast)
	fmt.Println(saturated)
	_, err := saturated.Sub(saturated)
	fmt.Println(errors.Is(err, quantity.ErrNoBound))
	// Output:
	// ≥ 6.144 V
	// true
}
