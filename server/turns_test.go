package server

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"narrowgauge/analysis"
)

// counted counts the hovers that are made.
type counted struct {
	*toy
	made *atomic.Int32
}

func (c counted) HoverIn(string, int) (analysis.Hover, bool) {
	c.made.Add(1)
	return analysis.Hover{Markdown: strings.Repeat("points ", 1000)}, true
}

// A client that asks and does not read has a few answers waiting for it, and not all that it
// has asked for; it gets each of them once it reads.
func TestUnread(t *testing.T) {
	var made atomic.Int32
	inR, inW := io.Pipe()
	outR, outW := io.Pipe()
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan struct{})
	t.Cleanup(func() { cancel(); inW.Close(); outR.Close(); <-over })
	go func() {
		defer close(over)
		Serve(ctx, inR, outW, Options{answerWithin: patience, CacheDir: t.TempDir(), analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
			return counted{&toy{in: in, texts: map[string]string{}}, &made}, ctx.Err()
		}})
	}()
	out := bufio.NewReader(outR)
	send := func(format string, args ...any) {
		if _, err := io.WriteString(inW, frame(fmt.Sprintf(format, args...))); err != nil {
			t.Fatal(err)
		}
	}
	send(`{"jsonrpc":"2.0","id":0,"method":"initialize","params":{"capabilities":{}}}`)
	if _, err := unframed(out); err != nil {
		t.Fatal(err)
	}
	const asked = 400
	send(`{"jsonrpc":"2.0","method":"textDocument/didOpen","params":{"textDocument":{"uri":"file:///box/a.s","version":1,"text":"lamp"}}}`)
	for i := range asked {
		send(`{"jsonrpc":"2.0","id":%d,"method":"textDocument/hover","params":{"textDocument":{"uri":"file:///box/a.s"},"position":{"line":0,"character":0}}}`, i+1)
	}
	for began := time.Now(); made.Load() < turnsEach; time.Sleep(time.Millisecond) {
		if time.Since(began) > patience {
			t.Fatal("no answers are made")
		}
	}
	for read := 0; read < asked; {
		if n := int(made.Load()) - read; n > maxTurns {
			t.Fatalf("%d answers are made and not read", n)
		}
		body, err := unframed(out)
		if err != nil {
			t.Fatal(err)
		}
		var m incoming
		if err := json.Unmarshal(body, &m); err != nil {
			t.Fatal(err)
		}
		if m.Method == "" {
			if read++; !strings.Contains(string(m.Result), "points") {
				t.Fatalf("answer %s: %.200s", m.ID, body)
			}
		}
	}
}

// Requests beyond a number, and beyond what their parameters take together, are refused; one
// alone may have any size that a message may have.
func TestCrowded(t *testing.T) {
	s := &Server{inFlight: map[string]context.CancelCauseFunc{}}
	cancel := func(error) {}
	enter := func(id string, size int) error {
		fresh, err := s.enter(id, size, cancel)
		if !fresh {
			t.Errorf("%s is said to wait already", id)
		}
		return err
	}
	for i := range maxAsked {
		if err := enter(fmt.Sprint(i), 10); err != nil {
			t.Fatalf("%d: %v", i, err)
		}
	}
	if err := enter("more", 10); !errors.Is(err, errCrowded) {
		t.Errorf("one more: %v", err)
	}
	if fresh, _ := s.enter("7", 10, cancel); fresh {
		t.Error("the same id twice")
	}
	for i := range maxAsked {
		s.leave(fmt.Sprint(i), 10)
	}
	if err := enter("large", MaxMessage); err != nil {
		t.Errorf("a large one alone: %v", err)
	}
	if err := enter("small", 10); !errors.Is(err, errCrowded) {
		t.Errorf("one beside it: %v", err)
	}
	s.leave("large", MaxMessage)
	if err := enter("small", 10); err != nil || s.askedBytes != 10 {
		t.Errorf("after it: %v, %d bytes", err, s.askedBytes)
	}
}
