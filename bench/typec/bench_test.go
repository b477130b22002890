package typec

import (
	"testing"

	"sinkproof/bench/quantity"
)

func BenchmarkClassify(b *testing.B) {
	v := quantity.Volts(1.683)
	b.ReportAllocs()
	for b.Loop() {
		Classify(v, A3000, R25)
	}
}

func BenchmarkAdvertised(b *testing.B) {
	v := quantity.Volts(1.683)
	b.ReportAllocs()
	for b.Loop() {
		Advertised(v, R25)
	}
}
