package main

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// minGrowth is how many bytes are allocated at least between two collections of a server. What a
// keystroke makes is much for a small heap: it would be collected every few keystrokes, each of
// which waits for it.
const minGrowth = 128 << 20

// pace sets how often memory is collected, after each collection by what is live then.
func pace() {
	live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	last := 0
	var again func()
	again = func() {
		metrics.Read(live)
		if n := growth(live[0].Value.Uint64()); n > last+last/8 || n < last-last/8 {
			debug.SetGCPercent(n)
			last = n
		}
		runtime.AddCleanup(new([16]byte), func(int) { again() }, 0)
	}
	again()
}

// growth is by how much of what is live, in percent, the heap may grow until it is collected: it
// doubles where that is minGrowth and more.
func growth(live uint64) int {
	return int(max(100, minGrowth*100/max(live, 4<<20)))
}
