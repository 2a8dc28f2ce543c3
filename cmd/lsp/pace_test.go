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
	newPace()
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

// TestPaceRest holds that a server that rests collects what it has made, and nothing where that
// is little.
func TestPaceRest(t *testing.T) {
	old := debug.SetGCPercent(100)
	defer debug.SetGCPercent(old)
	p := newPace()
	collections := func() uint32 {
		var heap runtime.MemStats
		runtime.ReadMemStats(&heap)
		return heap.NumGC
	}
	for range 3 { // what earlier tests have left
		runtime.GC()
	}
	before := collections()
	p.rest()
	if n := collections() - before; n != 0 {
		t.Errorf("%d collections, and nothing was made", n)
	}
	for range restGrowth>>20 + 8 {
		sink = make([]byte, 1<<20)
	}
	before = collections()
	p.rest()
	if n := collections() - before; n != 1 {
		t.Errorf("%d collections, and much was made", n)
	}
}

// sink keeps what tests make.
var sink []byte
