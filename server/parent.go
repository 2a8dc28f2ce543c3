package server

import (
	"encoding/json"
	"errors"
	"os"
	"runtime"
	"syscall"
	"time"

	"go.uber.org/zap"
)

// watchParent ends the session when the process has ended that started the server
// (LSP 3.17, InitializeParams.processId): its input may be held open by another
// process that it has started. An id of no process here is not watched: the client
// may run in another container, or on another machine.
func (s *Server) watchParent(id json.RawMessage) {
	var pid int
	if len(id) == 0 || json.Unmarshal(id, &pid) != nil || pid <= 0 || pid == os.Getpid() {
		return
	}
	// Where the system can, this holds on to the process, so that another one with
	// its number later is not taken for it.
	p, err := os.FindProcess(pid)
	if err != nil || ended(p) {
		s.log.Info("the client's process is not on this machine, and is not watched", zap.Int("process", pid), zap.Error(err))
		return
	}
	gone := func() { s.end(errors.New("the process that started the server has ended")) }
	if runtime.GOOS == "windows" {
		go func() {
			if _, err := p.Wait(); err == nil {
				gone()
			}
		}()
		return
	}
	every := s.opt.ParentCheck
	if every == 0 {
		every = 3 * time.Second
	}
	go func() {
		tick := time.NewTicker(every)
		defer tick.Stop()
		defer func() { _ = p.Release() }()
		for {
			select {
			case <-tick.C:
				if ended(p) {
					gone()
					return
				}
			case <-s.ctx.Done():
				return
			}
		}
	}()
}

// ended says whether a process has certainly ended. One that belongs to somebody else
// has not.
func ended(p *os.Process) bool {
	if runtime.GOOS == "windows" {
		return false // it would not have been found
	}
	err := p.Signal(syscall.Signal(0))
	return errors.Is(err, os.ErrProcessDone) || errors.Is(err, syscall.ESRCH)
}
