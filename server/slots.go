package server

import (
	"context"
	"runtime"
	"slices"
	"sync"
	"time"
)

// slots bounds what is computed at once, and shares it among documents: one that keeps
// asking cannot have all of it, and who waits is served in turns, what a question waits for
// before the rest. What is brief does not wait for what takes long: it has slots besides, and
// the system divides the processors among them.
type slots struct {
	mu      sync.Mutex
	free    int            // below 0: what had seemed brief has more than there are
	spare   int            // for what is brief
	most    int            // for one document
	briefly time.Duration  // how long a spare one is kept at most
	taken   map[docKey]int // by document
	hurried map[docKey]int // by document: questions that wait for it
	pressed map[docKey]int // those of them that somebody has put himself
	waiting []*waiter      // in order of arrival
}

type waiter struct {
	key    docKey
	asked  bool          // a question waits for just this
	put    bool          // one that somebody has put himself, and not an editor by the way
	brief  bool          // it may have a spare slot
	spare  bool          // it has one
	passed int           // how often others were served that came later
	ready  chan struct{} // closed when the slot is its own
}

// polite is a context for what takes long: whoever looks whether it has ended lets those go first
// who wait for a processor, as the next answer may. Without that they wait until the scheduler
// takes the processor away, some ten milliseconds each time.
type polite struct{ context.Context }

// Err is that of the context.
func (c polite) Err() error {
	runtime.Gosched()
	return c.Context.Err()
}

// maxPassed is how often one that waits lets others go first.
const maxPassed = 10

// hurry says that a question waits for what is computed for a document; end says that it does
// no more.
func (s *slots) hurry(key docKey, q *question) (end func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.hurried == nil {
		s.hurried, s.pressed = map[docKey]int{}, map[docKey]int{}
	}
	counts := []map[docKey]int{s.hurried}
	if q.put() {
		counts = append(counts, s.pressed)
	}
	for _, count := range counts {
		count[key]++
	}
	return func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		for _, count := range counts {
			if count[key]--; count[key] == 0 {
				delete(count, key)
			}
		}
	}
}

// newSlots has as many as there are processors, and at least two; and half as many for what is
// brief.
func newSlots() *slots {
	n := max(2, runtime.GOMAXPROCS(0))
	return &slots{free: n, spare: (n + 1) / 2, most: n - 1, briefly: briefly, taken: map[docKey]int{}}
}

// briefly is how long what has a spare slot keeps it: what takes longer has one of the others
// from then on.
const briefly = 100 * time.Millisecond

// acquire waits for a slot to compute in for a document. brief says that it is not expected to
// take long.
func (s *slots) acquire(ctx context.Context, key docKey, brief bool) (release func(), err error) {
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	w := &waiter{key: key, asked: questionOf(ctx) != nil, put: questionOf(ctx).put(), brief: brief, ready: make(chan struct{})}
	s.mu.Lock()
	s.waiting = append(s.waiting, w)
	s.serve()
	s.mu.Unlock()
	var timer *time.Timer
	release = sync.OnceFunc(func() {
		if timer != nil {
			timer.Stop()
		}
		s.mu.Lock()
		defer s.mu.Unlock()
		if w.spare {
			s.spare++
		} else {
			s.free++
		}
		if s.taken[key]--; s.taken[key] == 0 {
			delete(s.taken, key)
		}
		s.serve()
	})
	select {
	case <-w.ready:
		if w.spare {
			timer = time.AfterFunc(s.briefly, func() { s.overrun(w) })
		}
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

// busy says whether something is computed.
func (s *slots) busy() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.taken) > 0
}

// othersWait says whether something waits to be computed for another document.
func (s *slots) othersWait(key docKey) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.ContainsFunc(s.waiting, func(w *waiter) bool { return w.key != key })
}

// overrun moves what takes longer than expected to the slots that are for all, in which nothing
// begins then until there is one more than it has.
func (s *slots) overrun(w *waiter) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if w.spare {
		w.spare = false
		s.free--
		s.spare++
		s.serve()
	}
}

// serve gives away the free slots: to those first whose documents have the fewest; of these to
// what somebody has asked for or what has been passed over often, and then to what other questions
// wait for. It is called with the lock held.
func (s *slots) serve() {
	rank := func(w *waiter) int {
		n := 3 * s.taken[w.key]
		switch {
		case w.put, s.pressed[w.key] > 0, w.passed >= maxPassed:
			return n
		case w.asked, s.hurried[w.key] > 0:
			return n + 1
		}
		return n + 2
	}
	for {
		// Together never more more than there are of both.
		brief := s.spare > 0 && s.spare+s.free > 0
		next := -1
		for i, w := range s.waiting {
			if s.taken[w.key] < s.most && (s.free > 0 || brief && w.brief) && (next < 0 || rank(w) < rank(s.waiting[next])) {
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
		if w.spare = s.free <= 0; w.spare {
			s.spare--
		} else {
			s.free--
		}
		s.taken[w.key]++
		close(w.ready)
	}
}
