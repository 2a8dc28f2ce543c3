package server

import (
	"fmt"
	"sync/atomic"
	"time"
)

// Work that takes long says how far it is (LSP 3.17, "Work Done Progress"), to clients that
// can show it.

// workDone is one such work; nil says nothing.
type workDone struct {
	s     *Server
	token string
	last  time.Time
}

var workDones atomic.Int64

type workDoneValue struct {
	Kind       string `json:"kind"`
	Title      string `json:"title,omitempty"`
	Message    string `json:"message,omitempty"`
	Percentage *int   `json:"percentage,omitempty"`
}

type progressParams struct {
	Token string        `json:"token"`
	Value workDoneValue `json:"value"`
}

// begin asks the client for a place to show how far a work is. It must not be called by the
// reading goroutine.
func (s *Server) begin(title string) *workDone {
	if !s.caps.Window.WorkDoneProgress {
		return nil
	}
	p := &workDone{s: s, token: fmt.Sprintf("narrowgauge-%d", workDones.Add(1))}
	if err := s.call(s.ctx, "window/workDoneProgress/create", map[string]string{"token": p.token}, nil); err != nil {
		return nil
	}
	zero := 0
	p.tell(workDoneValue{Kind: "begin", Title: title, Percentage: &zero})
	return p
}

func (p *workDone) tell(v workDoneValue) { p.s.notify("$/progress", progressParams{p.token, v}) }

// report says how many percent are done, no more than some times a second.
func (p *workDone) report(percent int, message string) {
	if p == nil || time.Since(p.last) < 200*time.Millisecond {
		return
	}
	p.last = time.Now()
	percent = max(0, min(percent, 100))
	p.tell(workDoneValue{Kind: "report", Message: message, Percentage: &percent})
}

func (p *workDone) end() {
	if p != nil {
		p.tell(workDoneValue{Kind: "end"})
	}
}
