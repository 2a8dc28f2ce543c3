package server

import (
	"context"
	"sync"

	"narrowgauge/analysis"
)

// target is what a document has been taken for. Its versions share it: a guess costs
// several analyses, so that it is made when a document is opened, after it is saved, and when
// it has become another one by its length.
type target struct {
	mu    sync.Mutex
	known bool
	guess *analysis.Guess // nil: nothing to guess
	lines int             // of the text that it was guessed from
}

// of is the guess that holds for a text of so many lines; ok is false where one is to be
// made.
func (t *target) of(lines int) (guess *analysis.Guess, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if away := lines - t.lines; away > 4+t.lines/8 || -away > 4+t.lines/8 {
		return nil, false
	}
	if !t.known {
		return nil, false // what holds no more would count as said
	}
	return t.guess, true
}

func (t *target) set(guess *analysis.Guess, lines int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.known, t.guess, t.lines = true, guess, lines
}

// forget makes the next analysis guess anew.
func (t *target) forget() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.known = false
}

// guessAgain guesses the targets of all documents anew: a build file has changed.
func (s *Server) guessAgain() {
	for _, doc := range s.current().docs {
		doc.target.forget()
	}
	s.update(nil, func(*run) bool { return true })
}

// analyze analyses the run's document, for the target that it speaks for.
func (r *run) analyze(ctx context.Context, in *analysis.Input) (facts, error) {
	lines := in.File.NumLines()
	guess, known := r.doc.target.of(lines)
	in.Guess = guess
	res, err := r.srv.opt.analyze(ctx, in)
	if err != nil || known {
		return res, err
	}
	found, ok := res.(*analysis.Result)
	if !ok {
		return res, nil
	}
	if guess, err = analysis.GuessTarget(ctx, in, found); err != nil {
		return nil, err
	}
	r.doc.target.set(guess, lines)
	if guess == nil {
		return res, nil
	}
	r.srv.logOnce(in.Path + ": " + guess.String())
	in.Guess = guess
	return r.srv.opt.analyze(ctx, in)
}
