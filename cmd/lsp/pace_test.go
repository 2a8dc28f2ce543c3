package main

import (
	"runtime"
	"runtime/debug"
	"testing"
)

// TestPaceGrowth holds that a heap grows by what it is to grow at least, and doubles above that.
func TestPaceGrowth(t *testing.T) {
	for _, c := range []struct {
		live, least uint64
		want        int
	}{{0, 128 << 20, 3200}, {32 << 20, 128 << 20, 400}, {32 << 20, 32 << 20, 100}, {128 << 20, 128 << 20, 100}, {600 << 20, 128 << 20, 100}} {
		if got := growth(c.live, c.least); got != c.want {
			t.Errorf("%d bytes: %d percent, want %d", c.live, got, c.want)
		}
	}
}

// TestPace holds that the next collections set the growth by what is live.
func TestPace(t *testing.T) {
	old := debug.SetGCPercent(100)
	defer debug.SetGCPercent(old)
	defer newPace().ended.Store(true)
	held := make([][]byte, 200)
	for k := range held {
		held[k] = make([]byte, 1<<20)
	}
	const nearly = 100 + 100/7 + 1 // less than an eighth makes no difference
	percent := func() int {
		n := debug.SetGCPercent(100)
		debug.SetGCPercent(n)
		return n
	}
	for range 100 {
		runtime.GC()
		if percent() <= nearly {
			break
		}
	}
	if n := percent(); n > nearly {
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
	defer p.ended.Store(true)
	collections := func() uint32 {
		var heap runtime.MemStats
		runtime.ReadMemStats(&heap)
		return heap.NumGC
	}
	p.least.Store(maxGrowth) // nothing but what is asked for collects here
	for range 3 {            // what earlier tests have left
		runtime.GC()
	}
	p.set(growth(0, maxGrowth))
	before := collections()
	p.rest(longRest)
	if n := collections() - before; n != 0 {
		t.Errorf("%d collections, and nothing was made", n)
	}
	for range restGrowth>>20 + 8 {
		sink = make([]byte, 1<<20)
	}
	before = collections()
	p.rest(longRest)
	if n := collections() - before; n != 1 {
		t.Errorf("%d collections, and much was made", n)
	}
	// In a pause, half of what is collected anyway is enough, and less is not.
	for _, x := range []struct {
		size int
		want uint32
	}{{maxGrowth/2 - 16<<20, 0}, {32 << 20, 1}} {
		before = collections()
		for range x.size >> 20 {
			sink = make([]byte, 1<<20)
		}
		p.rest(0)
		if n := collections() - before; n != x.want {
			t.Errorf("%d collections in a pause after %d more MB, want %d", n, x.size>>20, x.want)
		}
	}
}

// TestPaceLargest holds that the heap grows by what typing in the largest document takes, between
// bounds.
func TestPaceLargest(t *testing.T) {
	var p pace
	for _, x := range []struct{ size, want int }{{0, minGrowth}, {10 << 10, minGrowth}, {300 << 10, 300 << 10 * growOfByte}, {64 << 20, maxGrowth}, {0, minGrowth}} {
		if p.largest(x.size); p.least.Load() != int64(x.want) {
			t.Errorf("with a document of %d kB the heap grows by %d MB, want %d", x.size>>10, p.least.Load()>>20, x.want>>20)
		}
	}
}

// sink keeps what tests make.
var sink []byte
