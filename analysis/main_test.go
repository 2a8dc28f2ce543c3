package analysis

import (
	"os"
	"testing"

	"narrowgauge/isa/reftest/sources"
)

func TestMain(m *testing.M) {
	status := m.Run()
	sources.RemoveUnpacked()
	os.Exit(status)
}
