package main

import (
	"runtime"
	"runtime/debug"
	"testing"
)

// TestPaceGrowth holds that a heap grows by what it is to grow at least, and doubles above that.
func TestPaceGrowth(t *testing.T) {
	for _, c := range []struct {
		live uint64
		want int
	}{{0, 3200}, {32 << 20, 400}, {128 << 20, 100}, {600 << 20, 100}} {
		if got := growth(c.live); got != c.want {
			t.Errorf("%d bytes: %d percent, want %d", c.live, got, c.want)
		}
	}
}

// TestPace holds that the next collections set the growth by what is live.
func TestPace(t *testing.T) {
	old := debug.SetGCPercent(100)
	defer debug.SetGCPercent(old)
	pace()
	held := make([][]byte, 200)
	for k := range held {
		held[k] = make([]byte, 1<<20)
	}
	percent := func() int {
		n := debug.SetGCPercent(100)
		debug.SetGCPercent(n)
		return n
	}
	for range 100 {
		runtime.GC()
		if percent() == 100 {
			break
		}
	}
	if n := percent(); n != 100 {
		t.Errorf("%d MB are live, and the heap may grow by %d percent", len(held), n)
	}
	runtime.KeepAlive(held)
	held = nil
	for range 100 {
		runtime.GC()
		if percent() > 300 {
			return
		}
	}
	t.Errorf("nearly nothing is live, and the heap may grow by %d percent", percent())
}
