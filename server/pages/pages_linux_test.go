//go:build !race

package pages

import (
	"runtime"
	"syscall"
	"testing"
)

// touch uses so many bytes of memory, and gives the page faults that it takes.
func touch(t *testing.T, size int) int64 {
	t.Helper()
	faults := func() int64 {
		var use syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &use); err != nil {
			t.Fatal(err)
		}
		return int64(use.Minflt)
	}
	before := faults()
	kept := make([][]byte, size>>16)
	for k := range kept {
		kept[k] = make([]byte, 1<<16)
		for i := 0; i < 1<<16; i += 4096 {
			kept[k][i] = 1
		}
	}
	n := faults() - before
	runtime.KeepAlive(kept)
	return n
}

// collections is how often memory has been collected.
func collections() uint32 {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.NumGC
}

// TestPrepare holds that so much is prepared as the analysis of a source takes, for a long one
// and where programs ask for large pages. It is the first: what others prepare stays so.
func TestPrepare(t *testing.T) {
	n := collections()
	if Prepare(Long - 1); collections() != n {
		t.Error("memory is prepared for a short source")
	}
	if Prepare(3 << 20); (collections() != n) != asks() {
		t.Errorf("memory is prepared for a long source: %t; programs ask: %t", collections() != n, asks())
	}
	const size = 60 << 20 // 20 bytes for each
	few(t, size)
}

// few holds that memory which is prepared comes with few page faults, where programs ask: one
// for each large page, not for each of 4 KiB.
func few(t *testing.T, size int) {
	t.Helper()
	switch n, most := touch(t, size), int64(size>>12/8); {
	case asks() && n > most:
		t.Errorf("%d page faults for %d MiB, at most %d are expected", n, size>>20, most)
	default:
		t.Logf("counted %d page faults for %d MiB; programs ask: %t", n, size>>20, asks())
	}
}

// TestReserve holds that all of what is asked for is reserved.
func TestReserve(t *testing.T) {
	const size = 64 << 20
	reserve(size + size/8)
	few(t, size)
}
