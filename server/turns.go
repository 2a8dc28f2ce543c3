package server

import (
	"context"
	"errors"
	"sync"
)

// Answers are made in turns, a few at a time, and a turn lasts until the answer is written: a
// client that asks for much and reads nothing, or slowly, has few answers waiting for it, and
// not all that it has asked for. Documents share the turns as they share the processors.
const (
	maxTurns      = 8
	turnsEach     = 6          // for one document
	maxAsked      = 10_000     // requests that have no answer yet
	maxAskedBytes = MaxMessage // of their parameters
)

// errCrowded tells a request that too many are before it.
var errCrowded = errors.New("too many requests wait for their answers")

// early are the requests that have a turn from the start; the others have it once the analysis
// is there that they wait for.
var early = map[string]bool{
	"textDocument/formatting": true, "textDocument/rangeFormatting": true, "textDocument/onTypeFormatting": true,
	"callHierarchy/incomingCalls": true, "callHierarchy/outgoingCalls": true,
	"workspace/symbol": true, "workspace/willRenameFiles": true, "workspace/diagnostic": true,
}

// turn is that of a request.
type turn struct {
	slots *slots

	mu      sync.Mutex
	release func() // nil: it has none
}

type turnKey struct{}

// turnOf is the turn that a context belongs to, nil if it is no request's.
func turnOf(ctx context.Context) *turn {
	t, _ := ctx.Value(turnKey{}).(*turn)
	return t
}

// take waits until it is the turn of a request about a document, once for each request.
func (t *turn) take(ctx context.Context, key docKey) error {
	if t == nil {
		return nil
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.release != nil {
		return nil
	}
	release, err := t.slots.acquire(ctx, key, false)
	if err != nil {
		return context.Cause(ctx)
	}
	t.release = release
	return nil
}

// end lets the next one have it. Its answer has been written.
func (t *turn) end() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.release != nil {
		t.release()
		t.release = nil
	}
}

// enter notes a request that waits for its answer, with what cancels it: false if one with the
// same id does, and errCrowded if too many do.
func (s *Server) enter(id string, size int, cancel context.CancelCauseFunc) (fresh bool, err error) {
	s.inFlightMu.Lock()
	defer s.inFlightMu.Unlock()
	switch {
	case s.inFlight[id] != nil:
		return false, nil
	case len(s.inFlight) >= maxAsked, len(s.inFlight) > 0 && s.askedBytes+size > maxAskedBytes:
		return true, errCrowded
	}
	s.inFlight[id] = cancel
	s.askedBytes += size
	return true, nil
}

// leave is for one that has been answered.
func (s *Server) leave(id string, size int) {
	s.inFlightMu.Lock()
	defer s.inFlightMu.Unlock()
	delete(s.inFlight, id)
	s.askedBytes -= size
}
