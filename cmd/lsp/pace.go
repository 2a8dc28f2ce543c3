package main

import (
	"runtime"
	"runtime/debug"
	"sync/atomic"
	"time"
)

// minGrowth is how many bytes are allocated at least between two collections of a server, and
// maxGrowth where a long document is open; restGrowth after how many it collects when nobody
// waits. What a keystroke makes is much for a small heap: it would be collected every few
// keystrokes, each of which waits for it. A keystroke makes three to five bytes for each of its
// document (measured), so there are about a hundred from one collection to the next.
const (
	minGrowth  = 32 << 20
	maxGrowth  = 192 << 20
	growOfByte = 400
	restGrowth = 16 << 20
)

// pace says when memory is collected.
type pace struct {
	percent atomic.Int64 // by which the heap may grow; see [debug.SetGCPercent]
	least   atomic.Int64 // how many bytes it grows at least
	ended   atomic.Bool  // it says so no more
}

// newPace sets how far the heap grows, and does so after each collection by what is live then.
func newPace() *pace {
	p := new(pace)
	p.least.Store(minGrowth)
	p.set(100)
	var again func()
	again = func() {
		if p.ended.Load() {
			return
		}
		var heap runtime.MemStats
		runtime.ReadMemStats(&heap)
		if last, n := int(p.percent.Load()), growth(p.live(&heap), uint64(p.least.Load())); n > last+last/8 || n < last-last/8 {
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

// rest collects what is there to collect, where it is much: now nobody waits for it. Where nothing
// has come for a moment only, it does so once half of that is there which would be collected
// anyway, while somebody waits.
func (p *pace) rest(quiet time.Duration) {
	enough := uint64(restGrowth)
	if quiet < longRest {
		enough = max(enough, uint64(p.least.Load())/2)
	}
	var heap runtime.MemStats
	runtime.ReadMemStats(&heap)
	if heap.HeapAlloc > p.live(&heap)+enough {
		runtime.GC()
	}
}

// longRest is from when on nobody is taken to type.
const longRest = 200 * time.Millisecond

// largest is told the size of the largest open document, in bytes: from the next collection on, the
// heap may grow by what typing in it takes.
func (p *pace) largest(size int) {
	p.least.Store(max(minGrowth, min(int64(size)*growOfByte, maxGrowth)))
}

// growth is by how much of what is live, in percent, the heap may grow until it is collected: by so
// many bytes at least, and it doubles where it is larger.
func growth(live, least uint64) int {
	return int(max(100, least*100/max(live, 4<<20)))
}
