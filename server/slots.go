package server

import (
	"context"
	"runtime"
	"slices"
	"sync"
)

// slots bounds what is computed at once, and shares it among documents: one that keeps
// asking cannot have all of it, and who waits is served in turns.
type slots struct {
	mu      sync.Mutex
	free    int
	most    int            // for one document
	taken   map[docKey]int // by document
	waiting []*waiter      // in order of arrival
}

type waiter struct {
	key   docKey
	ready chan struct{} // closed when the slot is its own
}

// newSlots has as many as there are processors, and at least two.
func newSlots() *slots {
	n := max(2, runtime.GOMAXPROCS(0))
	return &slots{free: n, most: n - 1, taken: map[docKey]int{}}
}

// acquire waits for a slot to compute in for a document.
func (s *slots) acquire(ctx context.Context, key docKey) (release func(), err error) {
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	w := &waiter{key, make(chan struct{})}
	s.mu.Lock()
	s.waiting = append(s.waiting, w)
	s.serve()
	s.mu.Unlock()
	release = sync.OnceFunc(func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.free++
		if s.taken[key]--; s.taken[key] == 0 {
			delete(s.taken, key)
		}
		s.serve()
	})
	select {
	case <-w.ready:
		return release, nil
	case <-ctx.Done():
	}
	s.mu.Lock()
	i := slices.Index(s.waiting, w)
	if i >= 0 {
		s.waiting = slices.Delete(s.waiting, i, i+1)
	}
	s.mu.Unlock()
	if i < 0 { // it has come meanwhile
		release()
	}
	return nil, ctx.Err()
}

// serve gives away the free slots: to those first whose documents have the fewest. It is
// called with the lock held.
func (s *slots) serve() {
	for s.free > 0 {
		next := -1
		for i, w := range s.waiting {
			if n := s.taken[w.key]; n < s.most && (next < 0 || n < s.taken[s.waiting[next].key]) {
				next = i
			}
		}
		if next < 0 {
			return
		}
		w := s.waiting[next]
		s.waiting = slices.Delete(s.waiting, next, next+1)
		s.free--
		s.taken[w.key]++
		close(w.ready)
	}
}
