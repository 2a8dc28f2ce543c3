package main

import (
	"runtime"
	"runtime/debug"
	"sync/atomic"
)

// minGrowth is how many bytes are allocated at least between two collections of a server, and
// restGrowth after how many it collects when nobody waits. What a keystroke makes is much for a
// small heap: it would be collected every few keystrokes, each of which waits for it.
const (
	minGrowth  = 128 << 20
	restGrowth = 32 << 20
)

// pace says when memory is collected.
type pace struct {
	percent atomic.Int64 // by which the heap may grow; see [debug.SetGCPercent]
}

// newPace sets how far the heap grows, and does so after each collection by what is live then.
func newPace() *pace {
	p := new(pace)
	p.set(100)
	var again func()
	again = func() {
		var heap runtime.MemStats
		runtime.ReadMemStats(&heap)
		if last, n := int(p.percent.Load()), growth(p.live(&heap)); n > last+last/8 || n < last-last/8 {
			p.set(n)
		}
		runtime.AddCleanup(new([16]byte), func(int) { again() }, 0)
	}
	again()
	return p
}

func (p *pace) set(percent int) {
	p.percent.Store(int64(percent))
	debug.SetGCPercent(percent)
}

// live is how many bytes the last collection has left, which is told by how far the heap may
// grow. Package runtime/metrics says so too, but every command would wait for it at its start.
func (p *pace) live(heap *runtime.MemStats) uint64 {
	return heap.NextGC * 100 / uint64(100+p.percent.Load())
}

// rest collects what is there to collect, where it is much: now nobody waits for it.
func (p *pace) rest() {
	var heap runtime.MemStats
	runtime.ReadMemStats(&heap)
	if heap.HeapAlloc > p.live(&heap)+restGrowth {
		runtime.GC()
	}
}

// growth is by how much of what is live, in percent, the heap may grow until it is collected: it
// doubles where that is minGrowth and more.
func growth(live uint64) int {
	return int(max(100, minGrowth*100/max(live, 4<<20)))
}
