package main

import (
	"runtime"
	"sync"

	"narrowgauge/server/pages"
)

// aLarge is the size of a source, in bytes, beside which no other one is analysed.
const aLarge = 1 << 20

// How much may wait for its turn to be printed: results for each processor, and bytes of them.
const (
	maxAhead        = 16
	maxWaitingBytes = 32 << 20
)

// weighed is a result that says how many bytes it is, about.
type weighed interface{ weight() int }

// turns hands sources out to workers, and bounds what waits behind the one whose turn it is.
type turns struct {
	mu       sync.Mutex
	moved    sync.Cond
	given    int // sources that have been handed out
	taken    int // results that have been taken
	waiting  int // bytes of results that wait
	ahead    int // how many results may wait
	finished bool
}

// next is the index of a source to look at; false: there is none any more.
func (t *turns) next(of int) (int, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	// The one whose turn it is never waits.
	for !t.finished && t.given < of && t.given > t.taken && (t.given-t.taken >= t.ahead || t.waiting > maxWaitingBytes) {
		t.moved.Wait()
	}
	if t.finished || t.given >= of {
		return 0, false
	}
	t.given++
	return t.given - 1, true
}

// move notes that bytes more wait, and that so many results have been taken.
func (t *turns) move(bytes, taken int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.waiting += bytes
	t.taken += taken
	t.moved.Broadcast()
}

// inOrder does something for each source, side by side, and hands over what comes of it in
// the order of the sources. do gets the source's index. What is done ahead of its turn is
// bounded, so that it does not matter how many sources there are. It ends with the first
// error of take.
func inOrder[T weighed](sources []source, shown *progress, do func(i int) T, take func(T) error) error {
	var size int64
	for i := range sources[:min(len(sources), 100)] { // each asks the system
		size += sources[i].size()
	}
	pages.Prepare(size)
	workers := min(len(sources), runtime.GOMAXPROCS(0))
	t := &turns{ahead: maxAhead * workers}
	t.moved.L = &t.mu
	results := make([]chan T, max(t.ahead, 1)) // a ring: the result of source i is in i modulo its length
	for i := range results {
		results[i] = make(chan T, 1)
	}
	var wg sync.WaitGroup
	var alone sync.RWMutex
	for range workers {
		wg.Go(func() {
			for {
				i, ok := t.next(len(sources))
				if !ok {
					return
				}
				// A large source may take all the memory that there is for one.
				var out T
				if sources[i].size() > aLarge {
					alone.Lock()
					out = do(i)
					alone.Unlock()
				} else {
					alone.RLock()
					out = do(i)
					alone.RUnlock()
				}
				t.move(out.weight(), 0)
				results[i%len(results)] <- out
				shown.add()
			}
		})
	}
	var err error
	for i := 0; i < len(sources) && err == nil; i++ {
		out := <-results[i%len(results)]
		shown.aside(func() { err = take(out) })
		t.move(-out.weight(), 1)
	}
	t.mu.Lock()
	t.finished = true
	t.moved.Broadcast()
	t.mu.Unlock()
	wg.Wait()
	return err
}
