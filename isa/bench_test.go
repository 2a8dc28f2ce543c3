package isa_test

import (
	"testing"

	"narrowgauge/isa"
)

// BenchmarkTable compiles all rows, as each process does once.
func BenchmarkTable(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		isa.BuildTable()
	}
}
