package page

import "testing"

func BenchmarkHTML(b *testing.B) {
	r := NewReport(longRun(), proof())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.HTML(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPDF(b *testing.B) {
	r := NewReport(longRun(), proof())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.PDF(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNewReport(b *testing.B) {
	run := longRun()
	b.ReportAllocs()
	for b.Loop() {
		NewReport(run, proof())
	}
}
