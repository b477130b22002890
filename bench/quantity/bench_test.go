package quantity

import (
	"fmt"
	"testing"
)

// sixParts is a reading as a run makes about a thousand of.
func sixParts(volts float64, input string) Measured {
	return NewMeasured(Volts(volts),
		Uniform("adc1 gain", 0.0015, volts),
		Uniform("adc1 offset", 2e-4, 1),
		Resolution("adc1 step "+input, 125e-6, 1),
		Uniform("divider "+input, 1e-3, volts),
		Normal("calibration", 1e-4, volts, 0),
		Normal("repeat "+input, 1e-4, 1, 9))
}

func BenchmarkAdd(b *testing.B) {
	x, y := sixParts(5, "a"), sixParts(4, "b")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := x.Add(y); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRatio(b *testing.B) {
	x, y := sixParts(5, "a"), sixParts(4, "b")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Ratio(x, y); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStd(b *testing.B) {
	x := sixParts(5, "a")
	b.ReportAllocs()
	for b.Loop() {
		x.Std()
	}
}

func BenchmarkMeanOf100(b *testing.B) {
	values := make([]Measured, 100)
	for i := range values {
		values[i] = sixParts(5, fmt.Sprint(i))
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Mean(values...); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkString(b *testing.B) {
	x := sixParts(4.98712, "a")
	b.ReportAllocs()
	for b.Loop() {
		_ = x.String()
	}
}

func BenchmarkParse(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ParseAs("4.75 V", Voltage); err != nil {
			b.Fatal(err)
		}
	}
}
