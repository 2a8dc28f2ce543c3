package server

import (
	"context"
	"sync/atomic"
	"time"

	"go.lsp.dev/jsonrpc2"
)

// What a client asks for is shown beside the cursor: later than this it is of no use,
// and a client that waits for it may show nothing else.
const answerWithin = 700 * time.Millisecond

// muchWork is how much is computed, in thousands of units, before an answer may be
// given up: a machine that is slow for another reason is waited for.
const muchWork = 20

// requestFailed is RequestFailed of LSP 3.17: nothing is wrong with the request.
const requestFailed jsonrpc2.Code = -32803

var errBusy = jsonrpc2.NewError(requestFailed, "a large program is still being looked at; ask again in a moment")

// counted is a context that counts how often it is looked at: an analysis does that
// for each thousand units of work.
type counted struct {
	context.Context
	looks *atomic.Int64
}

func (c counted) Err() error {
	c.looks.Add(1)
	return c.Context.Err()
}

// busy says whether much is being computed, or has been for a document: with so many
// thousand units of work since a request came.
func (s *Server) busy(since int64) bool {
	if s.looks.Load()-since >= muchWork {
		return true
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, runs := range []map[docKey]*run{s.snap.runs, s.snap.hidden} {
		for _, r := range runs {
			if r != nil && r.looks.Load() >= muchWork {
				return true
			}
		}
	}
	return false
}

// soon runs the work of a request and answers, in time where the server is busy: the
// work goes on then, so that the next request of its kind finds it done. end is called
// once, and free when the work has ended.
func (s *Server) soon(ctx context.Context, method string, rest work, end func(any, error), free func()) {
	type outcome struct {
		result any
		err    error
	}
	since := s.looks.Load()
	done := make(chan outcome, 1)
	go func() {
		defer free()
		result, err := guard(s, func() (any, error) { return rest(counted{ctx, &s.looks}) })
		done <- outcome{result, err}
	}()
	wait := time.NewTimer(s.opt.AnswerWithin)
	defer wait.Stop()
	for {
		select {
		case o := <-done:
			end(o.result, o.err)
			return
		case <-wait.C:
		}
		if s.busy(since) {
			if method == "textDocument/hover" {
				end(nil, nil) // nobody wants to read there why
			} else {
				end(nil, errBusy)
			}
			return
		}
		wait.Reset(s.opt.AnswerWithin / 10)
	}
}
