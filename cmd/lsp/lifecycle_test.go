//go:build unix

package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// frames are messages as they go over the wire.
func frames(messages ...string) string {
	var b strings.Builder
	for _, m := range messages {
		fmt.Fprintf(&b, "Content-Length: %d\r\n\r\n%s", len(m), m)
	}
	return b.String()
}

const (
	initialize  = `{"jsonrpc":"2.0","id":1,"method":"initialize","params":{"processId":%s,"capabilities":{}}}`
	initialized = `{"jsonrpc":"2.0","method":"initialized","params":{}}`
	shutdown    = `{"jsonrpc":"2.0","id":2,"method":"shutdown"}`
	opened      = `{"jsonrpc":"2.0","method":"textDocument/didOpen","params":{"textDocument":{"uri":"file:///points.s","languageId":"arm","version":1,"text":"\tmovs r9, #300\n"}}}`
)

// Serving is a server process. Its input stays open, as when a child of the client
// has inherited it.
type serving struct {
	t      *testing.T
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *os.File
	errs   strings.Builder
	reader *bufio.Reader
	done   chan error
}

func startServer(t *testing.T, args ...string) *serving {
	t.Helper()
	s := &serving{t: t, cmd: process(append([]string{"serve"}, args...)...), done: make(chan error, 1)}
	s.cmd.Env = append(os.Environ(), "XDG_CACHE_HOME="+t.TempDir())
	var err error
	if s.in, err = s.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	s.out, s.reader = r, bufio.NewReader(r)
	s.cmd.Stdout, s.cmd.Stderr = w, &s.errs
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	w.Close()
	t.Cleanup(func() {
		_ = s.cmd.Process.Kill()
		s.in.Close()
		s.out.Close()
	})
	go func() { s.done <- s.cmd.Wait() }()
	return s
}

func (s *serving) send(messages ...string) {
	s.t.Helper()
	if _, err := io.WriteString(s.in, frames(messages...)); err != nil {
		s.t.Fatal(err)
	}
}

// answered waits for an answer.
func (s *serving) answered() {
	s.t.Helper()
	if line, err := s.reader.ReadString('\n'); err != nil || !strings.HasPrefix(line, "Content-Length") {
		s.t.Fatalf("%q, %v; %s", line, err, s.errs.String())
	}
}

// ends waits for the end of the process, which has to exit with a status and without
// a trace.
func (s *serving) ends(status int) {
	s.t.Helper()
	select {
	case err := <-s.done:
		got := 0
		if exit := new(exec.ExitError); errors.As(err, &exit) {
			got = exit.ExitCode() // -1 for a signal
		} else if err != nil {
			s.t.Fatal(err)
		}
		if got != status || strings.Contains(s.errs.String(), "goroutine") {
			s.t.Errorf("status %d, want %d; %s", got, status, s.errs.String())
		}
	case <-time.After(time.Minute):
		s.t.Fatal("the server goes on")
	}
}

// TestParentEnds holds that the server ends with the process that started it, though
// its input stays open.
func TestParentEnds(t *testing.T) {
	t.Parallel()
	parent := exec.Command("sleep", "600")
	if err := parent.Start(); err != nil {
		t.Fatal(err)
	}
	s := startServer(t)
	s.send(fmt.Sprintf(initialize, fmt.Sprint(parent.Process.Pid)), initialized)
	s.answered()
	if err := parent.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = parent.Wait()
	s.ends(1)
}

// TestStrangeParents holds that the server serves clients that give the id of no
// process here, or none at all.
func TestStrangeParents(t *testing.T) {
	t.Parallel()
	gone := exec.Command("true")
	if err := gone.Run(); err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"null", "0", "-1", "\"12\"", "1e99", "{}", fmt.Sprint(gone.Process.Pid), "1"} {
		s := startServer(t)
		s.send(fmt.Sprintf(initialize, id), initialized)
		s.answered()
		time.Sleep(50 * time.Millisecond)
		s.send(shutdown, `{"jsonrpc":"2.0","method":"exit"}`)
		s.ends(0)
	}
}

// TestClosedOutput holds that a client that reads nothing more ends the server without
// a signal or a trace, and with 0 if it had sent shutdown.
func TestClosedOutput(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		first  []string
		status int
	}{{nil, 1}, {[]string{shutdown}, 0}} {
		s := startServer(t)
		s.send(fmt.Sprintf(initialize, "null"), initialized)
		s.answered()
		s.send(tt.first...)
		if tt.first != nil {
			time.Sleep(200 * time.Millisecond) // the answer to shutdown is on its way
		}
		s.out.Close()
		if tt.first == nil {
			s.send(opened)
		} else {
			s.send(`{"jsonrpc":"2.0","id":3,"method":"textDocument/hover","params":{}}`)
		}
		s.ends(tt.status)
	}
}

// TestFewFiles holds that too few descriptors are an error and no trace, whatever the
// limit.
func TestFewFiles(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "points.s"), []byte("\t.thumb\n\tmovs r0, #300\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip(err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	// The program is the test's own, known by its name.
	name := filepath.Join(dir, "narrowgauge")
	if err := os.Symlink(self, name); err != nil {
		t.Fatal(err)
	}
	refused, served := 0, 0
	for n := 4; n <= 24; n++ {
		for _, args := range []string{"check points.s", "fix --diff points.s", "serve", "version"} {
			cmd := exec.Command(sh, "-c", fmt.Sprintf("ulimit -n %d && exec ./narrowgauge %s", n, args))
			cmd.Dir, cmd.Stdin = dir, strings.NewReader(frames(fmt.Sprintf(initialize, "null"), shutdown, `{"jsonrpc":"2.0","method":"exit"}`))
			out, err := cmd.CombinedOutput()
			exit := new(exec.ExitError)
			switch text := string(out); {
			case errors.As(err, &exit) && exit.ExitCode() == 127:
				// The system's loader could not open a library: the program has not begun.
			case strings.Contains(text, "goroutine") || strings.Contains(text, "fatal error"):
				t.Errorf("%d files, %s: a trace\n%.300s", n, args, text)
			case errors.As(err, &exit) && exit.ExitCode() == 2 && strings.Contains(text, "files"):
				refused++
			case err == nil, args == "check points.s" && exit.ExitCode() == 1:
				served++
			default:
				t.Errorf("%d files, %s: %v\n%.300s", n, args, err, text)
			}
		}
	}
	if refused == 0 || served == 0 {
		t.Errorf("%d refused, %d served", refused, served)
	}
}
