package main

import (
	"bytes"
	"os"
	"syscall"
	"testing"
)

// TestReserve holds that memory which was prepared comes with few page faults: one for each
// large page, not for each of 4 KiB.
func TestReserve(t *testing.T) {
	if mode, err := os.ReadFile("/sys/kernel/mm/transparent_hugepage/enabled"); err != nil || !bytes.Contains(mode, []byte("[madvise]")) {
		t.Skip("the system does not let programs ask for large pages")
	}
	faults := func() int64 {
		var use syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &use); err != nil {
			t.Fatal(err)
		}
		return use.Minflt
	}
	const size = 64 << 20
	reserve(2 * size)
	before := faults()
	var kept [][]byte
	for range size >> 16 {
		part := make([]byte, 1<<16)
		for i := 0; i < len(part); i += 4096 {
			part[i] = 1
		}
		kept = append(kept, part)
	}
	if n, most := faults()-before, int64(size>>12/4); n > most {
		t.Errorf("%d page faults for %d MiB, at most %d are expected", n, size>>20, most)
	} else {
		t.Logf("counted %d page faults for %d MiB in %d parts", n, size>>20, len(kept))
	}
}
