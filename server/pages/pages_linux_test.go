//go:build !race

package pages

import (
	"bytes"
	"os"
	"runtime"
	"syscall"
	"testing"
)

func needPages(t *testing.T) {
	t.Helper()
	if mode, err := os.ReadFile("/sys/kernel/mm/transparent_hugepage/enabled"); err != nil || !bytes.Contains(mode, []byte("[madvise]")) {
		t.Skip("the system does not let programs ask for large pages")
	}
}

// touch uses so many bytes of memory, and gives the page faults that it takes.
func touch(t *testing.T, size int) int64 {
	t.Helper()
	faults := func() int64 {
		var use syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &use); err != nil {
			t.Fatal(err)
		}
		return use.Minflt
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

// TestPrepare holds that so much is prepared as the analysis of a source takes, for a long one.
// It is the first: what others prepare stays so.
func TestPrepare(t *testing.T) {
	needPages(t)
	collections := func() uint32 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.NumGC
	}
	n := collections()
	if Prepare(Long - 1); collections() != n {
		t.Error("memory is prepared for a short source")
	}
	Prepare(3 << 20)
	if collections() == n {
		t.Error("no memory is prepared for a long source")
	}
	const size = 60 << 20 // 20 bytes for each
	if n, most := touch(t, size), int64(size>>12/8); n > most {
		t.Errorf("%d page faults for %d MiB, at most %d are expected", n, size>>20, most)
	}
}

// TestReserve holds that memory which was prepared comes with few page faults: one for each
// large page, not for each of 4 KiB.
func TestReserve(t *testing.T) {
	needPages(t)
	const size = 64 << 20
	Reserve(size + size/8)
	if n, most := touch(t, size), int64(size>>12/8); n > most {
		t.Errorf("%d page faults for %d MiB, at most %d are expected", n, size>>20, most)
	} else {
		t.Logf("counted %d page faults for %d MiB", n, size>>20)
	}
}
