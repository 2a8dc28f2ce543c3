package server

import (
	"context"
	"runtime"
	"slices"
	"sync"
)

// slots bounds what is computed at once, and shares it among documents: one that keeps
// asking cannot have all of it, and who waits is served in turns, what a question waits for
// before the rest.
type slots struct {
	mu      sync.Mutex
	free    int
	most    int            // for one document
	taken   map[docKey]int // by document
	hurried map[docKey]int // by document: questions that wait for it
	waiting []*waiter      // in order of arrival
}

type waiter struct {
	key    docKey
	asked  bool          // a question waits for just this
	passed int           // how often others were served that came later
	ready  chan struct{} // closed when the slot is its own
}

// maxPassed is how often one that waits lets others go first.
const maxPassed = 10

// hurry says that a question waits for what is computed for a document; end says that it does
// no more.
func (s *slots) hurry(key docKey) (end func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.hurried == nil {
		s.hurried = map[docKey]int{}
	}
	s.hurried[key]++
	return func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.hurried[key]--; s.hurried[key] == 0 {
			delete(s.hurried, key)
		}
	}
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
	w := &waiter{key: key, asked: questionOf(ctx) != nil, ready: make(chan struct{})}
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

// serve gives away the free slots: to those first whose documents have the fewest, of these
// to what questions wait for, or what has been passed over often. It is called with the lock
// held.
func (s *slots) serve() {
	rank := func(w *waiter) int {
		n := 2 * s.taken[w.key]
		if !w.asked && s.hurried[w.key] == 0 && w.passed < maxPassed {
			n++
		}
		return n
	}
	for s.free > 0 {
		next := -1
		for i, w := range s.waiting {
			if s.taken[w.key] < s.most && (next < 0 || rank(w) < rank(s.waiting[next])) {
				next = i
			}
		}
		if next < 0 {
			return
		}
		w := s.waiting[next]
		for _, before := range s.waiting[:next] {
			before.passed++
		}
		s.waiting = slices.Delete(s.waiting, next, next+1)
		s.free--
		s.taken[w.key]++
		close(w.ready)
	}
}
