package server

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"
)

// question is a request about one document that somebody waits for. It is answered from the
// state of things that it finds: what changes elsewhere meanwhile, however often, keeps it
// no longer waiting. A change of its own document ends it with errModified, as its positions
// have lost their meaning; where nobody would look at an answer any more, errBusy does.
type question struct {
	srv      *Server
	cancel   context.CancelCauseFunc
	came     time.Time
	deadline bool // it was asked by the way: a move of the cursor, a key

	mu    sync.Mutex
	doc   *document // it is about; nil until that is known
	timer *time.Timer
	held  []*run // those that it has waited for
	// analysed is when its analysis was there, since it came; 0: it has not been.
	analysed time.Duration
	ended    bool
}

// answerWithin is how long a question that is asked by the way waits, and answerPerByte what a
// large text adds to that: one of a million lines takes its time when it is opened. Common
// practice: what has not come after a second is not waited for.
const (
	answerWithin  = 450 * time.Millisecond
	answerPerByte = 2 * time.Microsecond
)

// errBusy tells a question that it would have waited too long.
var errBusy = errors.New("the document is still being read")

// askAgain is how often a question that somebody has put himself looks, once it has waited for
// that long, whether it keeps others waiting.
const askAgain = 50 * time.Millisecond

// unhurried are the requests about one document that wait as long as it takes, as long as nothing
// else waits to be computed: somebody has asked for just that.
var unhurried = map[string]bool{
	"textDocument/diagnostic": true, "textDocument/references": true, "textDocument/rename": true, "textDocument/prepareRename": true,
	"textDocument/formatting": true, "textDocument/rangeFormatting": true, "codeAction/resolve": true,
	"textDocument/prepareCallHierarchy": true, "callHierarchy/incomingCalls": true, "callHierarchy/outgoingCalls": true,
}

type questionKey struct{}

// questionOf is the question that a context belongs to, nil if it is none.
func questionOf(ctx context.Context) *question {
	q, _ := ctx.Value(questionKey{}).(*question)
	return q
}

// about notes the document that a question is about, the first one that it is told.
func (q *question) about(doc *document) {
	if q == nil {
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.doc != nil {
		return
	}
	q.doc = doc
	end := q.giveUp
	if !q.deadline {
		end = q.makeWay
	}
	q.timer = time.AfterFunc(time.Until(q.until()), end)
}

// makeWay ends a question that somebody has put himself, and that has waited for long, while other
// documents wait for the processors. What it waits for goes on: once that is there, who asks again
// has an answer at once.
func (q *question) makeWay() {
	if q.srv.slots.othersWait(q.doc.key) {
		q.giveUp()
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.ended {
		q.timer.Reset(askAgain)
	}
}

// until is when a question that is asked by the way has waited for too long.
func (q *question) until() time.Time {
	return q.came.Add(q.srv.opt.answerWithin + time.Duration(len(q.doc.text.file.Text()))*answerPerByte)
}

// unhurried is for a question that turns out to be one that somebody has put himself.
func (q *question) unhurried() {
	if q != nil {
		q.deadline = false
	}
}

// put says whether somebody has put the question himself, and waits for just that.
func (q *question) put() bool { return q != nil && !q.deadline }

// within is a context for work on the answer to a question that goes on after its analysis is
// there: it ends with errBusy where nobody would wait for the rest any more.
func (q *question) within(ctx context.Context) (context.Context, context.CancelFunc) {
	if q == nil || !q.deadline {
		return context.WithCancel(ctx)
	}
	return context.WithDeadlineCause(ctx, q.until(), errBusy)
}

// spent is how long it took until its analysis was there; 0: it was not.
func (q *question) spent() time.Duration {
	if q == nil {
		return 0
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.analysed
}

// makeWithin is how long the answer may take at least, of a question that is asked by the way, once
// its analysis is there: that is hardly ever more than some milliseconds.
const makeWithin = 250 * time.Millisecond

// arrived notes that the question waits for its analysis no more.
func (q *question) arrived() {
	if q == nil {
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.analysed > 0 || q.ended {
		return
	}
	if q.analysed = max(time.Since(q.came), 1); q.timer != nil && q.deadline {
		q.timer.Reset(max(time.Until(q.until()), makeWithin))
	}
}

// begin is for a question about a document whose analysis is there: it takes its turn, and what
// is made of the analysis has its time.
func begin(ctx context.Context, key docKey) error {
	if err := turnOf(ctx).take(ctx, key); err != nil {
		return err
	}
	questionOf(ctx).arrived()
	return nil
}

// giveUp ends a question that has waited for too long. What the client shows of the document it
// is told to ask for again once there are answers.
func (q *question) giveUp() {
	if q.srv.current().docs[q.doc.key] != nil {
		q.srv.pub.mu.Lock()
		q.srv.pub.unanswered[q.doc.key] = true
		q.srv.pub.mu.Unlock()
	}
	q.cancel(errBusy)
}

// moved ends the question if its document has changed or is closed.
func (q *question) moved(docs map[docKey]*document) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.doc == nil {
		return
	}
	if now := docs[q.doc.key]; now == nil || now.text != q.doc.text {
		q.cancel(errModified)
	}
}

// hold keeps a run going until the question has its answer.
func (q *question) hold(r *run) {
	if q == nil {
		return
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	if !slices.Contains(q.held, r) && r.held.take() {
		q.held = append(q.held, r)
	}
}

// end lets the runs go that were held.
func (q *question) end() {
	q.cancel(nil)
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.ended = true; q.timer != nil {
		q.timer.Stop()
	}
	for _, r := range q.held {
		if r.held.giveBack() {
			r.cancel()
		}
	}
	q.held = nil
}

// holders are the questions that wait for a run.
type holders struct {
	mu   sync.Mutex
	n    int
	left bool // nobody else does
}

// take is for one more; it is too late if nobody waits for the run any more.
func (h *holders) take() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.left && h.n == 0 {
		return false
	}
	h.n++
	return true
}

// giveBack is for one less. last: nobody waits for the run any more.
func (h *holders) giveBack() (last bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.n--
	return h.left && h.n == 0
}

// leave says that only questions wait for the run from now on. last: nobody does.
func (h *holders) leave() (last bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.left = true
	return h.n == 0
}

// leave ends a run that something has made stale, unless questions wait for it: it goes on
// for them, and ends with the last one.
func (r *run) leave() {
	if r.held.leave() {
		r.cancel()
	}
}

// question makes a request a question, until release is called.
func (s *Server) question(ctx context.Context, cancel context.CancelCauseFunc, method string) (asked context.Context, release func()) {
	q := &question{srv: s, cancel: cancel, came: time.Now(), deadline: !unhurried[method]}
	s.mu.Lock()
	s.questions[q] = true
	s.mu.Unlock()
	return context.WithValue(ctx, questionKey{}, q), func() {
		s.mu.Lock()
		delete(s.questions, q)
		s.mu.Unlock()
		q.end()
	}
}
