package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"
)

// progress says on a terminal how far a long run is. Nil says nothing.
type progress struct {
	out     io.Writer
	total   int
	done    atomic.Int64
	ending  chan struct{}
	ended   chan struct{}
	stopped sync.Once

	mu    sync.Mutex // holds what is written
	ticks int
	shown bool
}

// How often progress is shown, and how many times it is not before: a short run has none.
const (
	showsEvery = 200 * time.Millisecond
	showsAfter = 5
)

// newProgress is the progress through so many files. Where out is no terminal it is nil.
func newProgress(out io.Writer, total int) *progress {
	if total < 2 || !isTerminal(out) || os.Getenv("TERM") == "dumb" {
		return nil
	}
	ticker := time.NewTicker(showsEvery)
	p := startProgress(out, total, ticker.C)
	go func() {
		<-p.ended
		ticker.Stop()
	}()
	return p
}

// startProgress shows progress at each tick but the first ones.
func startProgress(out io.Writer, total int, ticks <-chan time.Time) *progress {
	p := &progress{out: out, total: total, ending: make(chan struct{}), ended: make(chan struct{})}
	go func() {
		defer close(p.ended)
		for {
			select {
			case <-p.ending:
				p.aside(func() {})
				return
			case <-ticks:
				p.tick()
			}
		}
	}()
	return p
}

// tick shows how far it is, but not at the first ticks.
func (p *progress) tick() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.ticks++; p.ticks > showsAfter {
		p.shown = true
		fmt.Fprintf(p.out, clearLine+"narrowgauge: %d of %d files", p.done.Load(), p.total)
	}
}

// clearLine goes to the start of the line and erases it (ECMA-48, CR and EL).
const clearLine = "\r\x1b[K"

// aside takes what is shown away, and writes something else in its place.
func (p *progress) aside(write func()) {
	if p == nil {
		write()
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.shown {
		p.shown = false
		fmt.Fprint(p.out, clearLine)
	}
	write()
}

// add says that one more file is done.
func (p *progress) add() {
	if p != nil {
		p.done.Add(1)
	}
}

// end takes what is shown away again.
func (p *progress) end() {
	if p != nil {
		p.stopped.Do(func() { close(p.ending) })
		<-p.ended
	}
}
