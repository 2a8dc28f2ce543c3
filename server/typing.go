package server

import (
	"strings"
	"sync"
	"time"
)

// While somebody types, nearly every letter makes a line that is wrong until the next one is there.
// Findings that such letters bring come after a pause; those that they end go at once, and all
// others stay. A line's end, as any change that concerns several lines at once, ends the typing of
// what was before it.

// holding is what is held back of the findings.
type holding struct {
	mu    sync.Mutex
	shown map[docKey][]finding // what the client has been told
	timer *time.Timer          // tells the rest
}

// forget drops what is known of a document that the client shows nothing of any more.
func (h *holding) forget(key docKey) {
	h.mu.Lock()
	delete(h.shown, key)
	h.mu.Unlock()
}

// typing says whether changes are what somebody types or deletes within lines, or what goes with it:
// an editor closes brackets, and has lines laid out.
func (s *Server) typing(changes []contentChange) bool {
	for _, c := range changes {
		if c.Range == nil || c.Text == nil || c.Range.Start.Line != c.Range.End.Line || strings.ContainsAny(*c.Text, "\r\n") {
			return false
		}
	}
	return s.opt.TypingPause > 0
}

// pausing is how long it takes until nothing has been typed for a while.
func (snap *snapshot) pausing() time.Duration {
	var last time.Time
	for _, doc := range snap.docs {
		if doc.pause.After(last) {
			last = doc.pause
		}
	}
	return time.Until(last)
}

// holdBack takes from pages that are to be sent what has come with the last letters.
func (s *Server) holdBack(snap *snapshot, pages map[docKey]page) {
	for key, p := range pages {
		if !s.pulls.Load() {
			pages[key] = s.heldBack(snap, key, p, s.wake)
		}
	}
}

// heldBack is a page without what has come with the last letters; later is called when it is time
// for that.
func (s *Server) heldBack(snap *snapshot, key docKey, p page, later func()) page {
	h := &s.pub.held
	h.mu.Lock()
	defer h.mu.Unlock()
	if wait := snap.pausing(); wait > 0 {
		told := alsoIn(p.found, h.shown[key])
		if len(told) < len(p.found) {
			if h.timer != nil {
				h.timer.Stop()
			}
			h.timer = time.AfterFunc(wait, later)
		}
		p.found = told
	}
	if h.shown == nil {
		h.shown = map[docKey][]finding{}
	}
	h.shown[key] = p.found
	return p
}

// alsoIn are the findings of a list that are also in another one, in lines of the same number.
func alsoIn(list, other []finding) (out []finding) {
	type said struct {
		line          uint32
		code, message string
	}
	count := make(map[said]int, len(other))
	of := func(f *finding) said { return said{f.wire.Range.Start.Line, f.code, f.wire.Message} }
	for i := range other {
		count[of(&other[i])]++
	}
	for i := range list {
		if k := of(&list[i]); count[k] > 0 {
			count[k]--
			out = append(out, list[i])
		}
	}
	return out
}

// askAgain tells a client that asks for findings that there are others now.
func (s *Server) askAgain() {
	if s.ctx.Err() == nil {
		_ = s.call(s.ctx, "workspace/diagnostic/refresh", nil, nil)
	}
}
